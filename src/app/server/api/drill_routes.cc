// The drill: the next sound for this learner, and what the answer was worth.
#include <algorithm>

#include "app/server/api/classroom.h"
#include "app/server/api/drill_items.h"
#include "app/server/api/drill_rules.h"
#include "app/server/api/guard.h"
#include "app/server/api/learner_view.h"
#include "app/specimen/truth_json.h"
#include "exam/names.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// Right, but only after long thought (ENGINEERING).
constexpr double kSlow_s = 15.0;

const char* reason_word(teaching::DrillReason reason) {
  switch (reason) {
    case teaching::DrillReason::kFirstBlock:
      return "new";
    case teaching::DrillReason::kContrast:
      return "side by side with what it was taken for";
    case teaching::DrillReason::kForgetting:
      return "about to be forgotten";
    case teaching::DrillReason::kConfusion:
      return "often mistaken";
    case teaching::DrillReason::kReview:
      return "review";
  }
  return "review";
}

std::string mode_of(const json& body) {
  const std::string mode = text_field(body, "mode", 20);
  if (std::find(std::begin(kDrillModes), std::end(kDrillModes), mode) == std::end(kDrillModes)) {
    refuse(422, "wrong value", "mode must be one of name, phase, side, lobe, same, weigh, threat");
  }
  return mode;
}

// Places are told apart from one another alone: in a row they would give themselves away.
teaching::DrillSettings settings_of(const json& body, const std::string& mode) {
  const std::string word = text_field_or(body, "schedule", "blocked_then_mixed", 30);
  teaching::DrillSettings settings;
  if (word == "mixed" || mode == "lobe") {
    settings.schedule = teaching::DrillSchedule::kMixed;
  } else if (word == "blocked") {
    settings.schedule = teaching::DrillSchedule::kBlocked;
  } else if (word != "blocked_then_mixed") {
    refuse(422, "wrong value", "schedule must be blocked_then_mixed, blocked or mixed");
  }
  return settings;
}

struct Start {
  std::size_t variant = 0;
  Seed seed;
};
// With a partner and choices that the class practises.
DrillTask make_allowed_task(const Office& office, const std::string& mode,
                            const teaching::Skill& skill, const Start& from,
                            const DrillRules& rules) {
  constexpr std::uint64_t kTries = 50;
  DrillTask task = need(make_task(office, mode, skill, from.variant, from.seed));
  const auto is_foreign = [&] {
    return mode == "same" && task.truth == "different" && !rules.skills.contains(task.partner);
  };
  for (std::uint64_t i = 1; is_foreign() && i < kTries; ++i) {
    task = need(make_task(office, mode, skill, from.variant, Seed{from.seed.value + i}));
  }
  if (mode == "name") {
    for (const std::size_t i : allowed_skills(office, mode, rules)) {
      task.choices.push_back({office.skills[i].id, office.skills[i].label});
    }
  }
  return task;
}

Response next(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  const json body = body_of(request);
  const std::string mode = mode_of(body);
  records::Drills drills(desk.db);
  const auto answers = need(drills.answers(caller.person().id));
  const DrillRules rules = rules_for(office, desk, caller);
  if (!rules.modes.contains(mode)) {
    refuse(409, "not now", "your class does not practise this kind of question now");
  }
  const auto used = allowed_skills(office, mode, rules);
  auto settings = settings_of(body, mode);
  const Met met = met_of(office, mode, used, answers, desk.now_ms);
  settings.opens_new = !rules.new_per_day || met.lately < *rules.new_per_day;
  if (!settings.opens_new && !met.any) {
    refuse(409, "enough for today",
           "your class meets only so many new kinds a day, and you have met them; go on with "
           "another kind of question, or tomorrow");
  }
  auto drill = drill_of(office, mode, answers, settings, used);
  const auto chosen = drill.next(days_of(desk.now_ms));
  const teaching::Skill& skill = office.skills[used[chosen.skill]];
  records::DrillItemRecord item{records::random_id(), caller.person().id, mode, skill.id, "",
                                desk.now_ms};
  const Seed seed{std::strtoull(item.id.substr(0, 12).c_str(), nullptr, 16)};
  const DrillTask task = make_allowed_task(office, mode, skill, {chosen.variant, seed}, rules);
  item.detail = task_text(task);
  need(drills.give(item));
  json choices = json::array(), sounds = json::array();
  for (const auto& choice : choices_of(office, mode, task)) {
    choices.push_back({{"id", choice.id}, {"label", choice.label}});
  }
  for (std::size_t i = 0; i < task.sounds.size(); ++i) {
    sounds.push_back("/api/v1/drill/items/" + item.id + "/sounds/" + std::to_string(i));
  }
  return json_answer({{"item_id", item.id},
                      {"mode", mode},
                      {"reason", reason_word(chosen.reason)},
                      {"question", question_of(mode, task)},
                      {"sounds", std::move(sounds)},
                      {"sound_labels", sound_labels_of(mode, task)},
                      {"has_one_gain", has_one_gain(office, mode, task)},
                      {"sound_only", rules.sound_only},
                      {"choices", std::move(choices)}});
}

Response sound(const Office& office, Desk& desk, const Caller& caller, const PathValues& values) {
  const auto item = need(records::Drills(desk.db).item(values.at("id"), caller.person().id));
  return sound_response(office, need(task_from_text(item.detail)), values.at("number"));
}

const teaching::Skill* skill_of(const Office& office, const std::string& id) {
  for (const auto& skill : office.skills) {
    if (skill.id == id) return &skill;
  }
  return nullptr;
}

// What the learner's memory takes from the answer: the skill itself when right, else the one that
// it was taken for.
std::string remembered(const DrillTask& task, const records::DrillItemRecord& item,
                       const std::string& answered) {
  if (item.mode == "name" || item.mode == "lobe") return answered;
  return answered == task.truth ? item.skill : task.partner;
}

Response answer(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  const json body = body_of(request);
  records::Drills drills(desk.db);
  const auto item = need(drills.item(text_field(body, "item_id", 64), caller.person().id));
  const DrillTask task = need(task_from_text(item.detail));
  const auto choices = choices_of(office, item.mode, task);
  const auto label_of = [&](const std::string& id) {
    for (const auto& choice : choices) {
      if (choice.id == id) return choice.label;
    }
    return std::string();
  };
  const std::string answered = text_field(body, "answered", 64);
  if (label_of(answered).empty()) refuse(422, "wrong value", "answered must be one of the choices");
  const double seconds = number_field(body, "seconds", 0.0, 36000.0);
  need(drills.answer(caller.person().id,
                     {item.id, item.mode, item.skill, remembered(task, item, answered),
                      seconds > kSlow_s, desk.now_ms}));
  const auto* said = skill_of(office, answered);
  const auto* skill = skill_of(office, item.skill);
  json events = json::array();  // for the pictures
  const bool shows_pictures = !rules_for(office, desk, caller).sound_only;
  std::string explanation = task.explanation;
  for (const DrillSound& one : task.sounds) {
    if (shows_pictures) events.push_back(json(truth_json(need(play(office, one)))));
    const auto specimen = need(office.specimens.find(one.specimen_id));
    if (!task.explanation.empty()) continue;  // a question of meaning has its own
    if (explanation.find(specimen.listen) == std::string::npos) {
      explanation += (explanation.empty() ? "" : " ") + specimen.name + ": " + specimen.listen +
                     " " + specimen.mechanism;
    }
  }
  const auto drill = drill_of(office, item.mode, need(drills.answers(caller.person().id)));
  json skill_now;
  for (std::size_t k = 0; k < drill.skills().size(); ++k) {
    if (drill.skills()[k].id == item.skill) {
      skill_now = skill_json(office, item.mode, drill, k, desk.now_ms);
    }
  }
  const bool is_right = answered == task.truth;
  const bool is_family = is_right || ((item.mode == "name" || item.mode == "lobe") &&
                                      said != nullptr && said->family == skill->family);
  return json_answer({{"is_right", is_right},
                      {"is_family_right", is_family},
                      {"truth", task.truth},
                      {"truth_label", label_of(task.truth)},
                      {"answered", answered},
                      {"explanation", explanation},
                      {"truth_events", std::move(events)},
                      {"skill", std::move(skill_now)}});
}

}  // namespace

void add_drill_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/drill";
  table.add(
      for_callers(office, {"POST", path + "/next", Lane::kWork},
                  [office](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return next(*office, desk, caller, request); }));
  table.add(for_callers(
      office, {"GET", path + "/items/{id}/sounds/{number}", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return sound(*office, desk, caller, values);
      }));
  table.add(
      for_callers(office, {"POST", path + "/answers", Lane::kWork},
                  [office](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return answer(*office, desk, caller, request); }));
}

}  // namespace phren::app::server
