// What a class practises, set by its instructors (teaching/drill/rules.h).
#include "app/server/api/classroom.h"
#include "app/server/api/drill_view.h"
#include "base/json_fields.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using teaching::DrillRules;

Result<DrillRules> parse_rules(const Office& office, const json& body) {
  const auto rules = TRY(read_record<DrillRules>(body, "", Unknown::kPassedOver));
  TRY(teaching::check_rules(office.book, rules));
  return rules;
}

DrillRules kept_rules(const Office& office, const std::string& text) {
  // Rules of an older program may name what is no longer there; then everything is allowed.
  const auto all = teaching::all_allowed(office.book);
  return text.empty() ? all : parse_rules(office, parse_json<json>(text)).value_or(all);
}

json rules_json(const Office& office, const DrillRules& rules) {
  json out(json_of(rules));
  const auto& naming = *teaching::drill_kinds().front();
  out["all_skills"] = json::array();
  for (const auto& skill :
       teaching::choices_from(office.book, teaching::skills_of(office.book, naming))) {
    out["all_skills"].push_back(json(json_of(skill)));
  }
  return out;
}

Response put(const Office& office, Desk& desk, const Caller& caller, const Request& request,
             const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  const auto rules = need(parse_rules(office, body_of(request)), class_id);
  need(records::Classes(desk.db).set_drill(class_id, json_of(rules).dump(), caller.person().id,
                                           desk.now_ms),
       class_id);
  return json_answer(rules_json(office, rules));
}

}  // namespace

DrillRules rules_for(const Office& office, Desk& desk, const Caller& caller) {
  const auto classes =
      need(records::Classes(desk.db).drills_of(caller.person().id, caller.session.class_id));
  if (classes.empty()) return teaching::all_allowed(office.book);
  DrillRules rules = kept_rules(office, classes.front().rules);
  for (std::size_t i = 1; i < classes.size(); ++i) {
    rules = teaching::together(std::move(rules), kept_rules(office, classes[i].rules));
  }
  return rules;
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
