#include "app/server/api/drill_rules.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "app/server/api/classroom.h"
#include "app/server/api/learner_view.h"
#include "base/json_text.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

constexpr int kMostNewPerDay = 50;
constexpr std::int64_t kDay_ms = 24LL * 3600 * 1000;

// Of the words of a list, all known.
Result<std::set<std::string>> words_of(const json& body, const char* name,
                                       const std::set<std::string>& known) {
  const auto found = body.find(name);
  if (found == body.end() || !found->is_array() || found->empty()) {
    return fail(out_of_range(name, "something else", "a list of at least one word"));
  }
  std::set<std::string> words;
  for (const json& one : *found) {
    if (!one.is_string() || !known.contains(one.get<std::string>())) {
      return fail(out_of_range(name, one.dump(), "words that GET lists"));
    }
    words.insert(one.get<std::string>());
  }
  return words;
}

DrillRules kept_rules(const Office& office, const std::string& text) {
  if (text.empty()) return all_allowed(office);
  // Rules of an older program may name what is no longer there; then everything is allowed.
  return parse_drill_rules(office, parse_json<json>(text)).value_or(all_allowed(office));
}

json rules_json(const Office& office, const DrillRules& rules) {
  json out = to_json(office, rules);
  out["all_skills"] = json::array();
  for (const std::size_t i : skills_of_mode(office, "name")) {
    out["all_skills"].push_back({{"id", office.skills[i].id}, {"label", office.skills[i].label}});
  }
  return out;
}

Response put(const Office& office, Desk& desk, const Caller& caller, const Request& request,
             const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  const auto rules = need(parse_drill_rules(office, body_of(request)), class_id);
  need(records::Classes(desk.db).set_drill(class_id, to_json(office, rules).dump(),
                                           caller.person().id, desk.now_ms),
       class_id);
  return json_answer(rules_json(office, rules));
}

}  // namespace

DrillRules all_allowed(const Office& office) {
  DrillRules rules;
  rules.modes = {std::begin(kDrillModes), std::end(kDrillModes)};
  for (const std::size_t i : skills_of_mode(office, "name")) {
    rules.skills.insert(office.skills[i].id);
  }
  return rules;
}

Result<DrillRules> parse_drill_rules(const Office& office, const json& body) {
  if (!body.is_object()) return fail(ErrorCode::kMalformed, "the rules must be a JSON object");
  const DrillRules all = all_allowed(office);
  DrillRules rules;
  rules.modes = TRY(words_of(body, "modes", all.modes));
  rules.skills = TRY(words_of(body, "skills", all.skills));
  if (const auto found = body.find("new_per_day"); found != body.end() && !found->is_null()) {
    if (!found->is_number_integer() || found->get<double>() < 1 ||
        found->get<double>() > kMostNewPerDay) {
      return fail(out_of_range("new_per_day", found->dump(), "null or between 1 and 50"));
    }
    rules.new_per_day = found->get<int>();
  }
  if (const auto found = body.find("sound_only"); found != body.end()) {
    if (!found->is_boolean()) {
      return fail(out_of_range("sound_only", found->dump(), "true or false"));
    }
    rules.sound_only = found->get<bool>();
  }
  for (const std::string& mode : rules.modes) {
    const auto usable = allowed_skills(office, mode, rules).size();
    if (usable < 2) {
      return fail(out_of_range("number of chosen sounds that \"" + mode + "\" can ask about",
                               static_cast<double>(usable),
                               "2 or more: choose more sounds or leave that question out"));
    }
  }
  return rules;
}

json to_json(const Office&, const DrillRules& rules) {
  json out{{"modes", rules.modes},
           {"skills", rules.skills},
           {"new_per_day", nullptr},
           {"sound_only", rules.sound_only}};
  if (rules.new_per_day) out["new_per_day"] = *rules.new_per_day;
  return out;
}

DrillRules rules_for(const Office& office, Desk& desk, const Caller& caller) {
  const auto classes =
      need(records::Classes(desk.db).drills_of(caller.person().id, caller.session.class_id));
  if (classes.empty()) return all_allowed(office);
  DrillRules together = kept_rules(office, classes.front().rules);
  for (std::size_t i = 1; i < classes.size(); ++i) {
    const DrillRules one = kept_rules(office, classes[i].rules);
    together.modes.insert(one.modes.begin(), one.modes.end());
    together.skills.insert(one.skills.begin(), one.skills.end());
    together.sound_only = together.sound_only && one.sound_only;
    together.new_per_day = together.new_per_day && one.new_per_day
                               ? std::optional(std::max(*together.new_per_day, *one.new_per_day))
                               : std::nullopt;
  }
  return together;
}

std::vector<std::size_t> allowed_skills(const Office& office, const std::string& mode,
                                        const DrillRules& rules) {
  std::vector<std::size_t> list;
  for (const std::size_t i : skills_of_mode(office, mode)) {
    const teaching::Skill& skill = office.skills[i];
    if (!skill.lobe && !rules.skills.contains(skill.id)) continue;
    // "Same or different" needs a look-alike that is practised too.
    const bool has_partner = std::any_of(
        skill.confusable.begin(), skill.confusable.end(),
        [&](std::size_t other) { return rules.skills.contains(office.skills[other].id); });
    if (mode == "same" && !has_partner) continue;
    list.push_back(i);
  }
  return list;
}

Met met_of(const Office& office, const std::string& mode, const std::vector<std::size_t>& skills,
           const std::vector<records::DrillAnswerRecord>& answers, std::int64_t now_ms) {
  Met met;
  std::set<std::string> seen;  // answers come in the order in which they were given
  for (const auto& one : answers) {
    if (one.mode != mode || !seen.insert(one.skill).second) continue;
    if (now_ms - one.at_ms < kDay_ms) ++met.lately;
    met.any = met.any || std::any_of(skills.begin(), skills.end(), [&](std::size_t i) {
                return office.skills[i].id == one.skill;
              });
  }
  return met;
}

void add_drill_rule_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/classes/{id}/drill";
  table.add(for_callers(
      office, {"GET", path},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        const std::string& id = values.at("id");
        need_staff(desk, caller, id);
        const auto kept = need(records::Classes(desk.db).drill(id), id);
        return json_answer(rules_json(*office, kept_rules(*office, kept.rules)));
      }));
  table.add(for_callers(
      office, {"PUT", path},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return put(*office, desk, caller, request, values.at("id"));
      }));
  table.add(
      for_callers(office, {"GET", "/api/v1/drill/rules"},
                  [office](Desk& desk, const Caller& caller, const Request&, const PathValues&) {
                    return json_answer(rules_json(*office, rules_for(*office, desk, caller)));
                  }));
}

}  // namespace phren::app::server
