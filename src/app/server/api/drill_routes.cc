// The drill: the next sound for this learner, and what the answer was worth.
#include <algorithm>

#include "app/server/api/classroom.h"
#include "app/server/api/drill_view.h"
#include "app/specimen/truth_json.h"
#include "base/json_fields.h"
#include "records/drills.h"
#include "records/passwords.h"
#include "teaching/drill/learner.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using teaching::DrillKind;
using teaching::DrillQuestion;
using teaching::DrillRules;

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

const DrillKind& kind_of(const json& body) {
  const auto* kind = teaching::find_drill_kind(text_field(body, "mode", 20));
  if (kind == nullptr) {
    refuse(422, "wrong value", "mode must be one of " + teaching::drill_kind_ids());
  }
  return *kind;
}

teaching::DrillSettings settings_of(const json& body, const DrillKind& kind) {
  const std::string word = text_field_or(body, "schedule", "blocked_then_mixed", 30);
  teaching::DrillSettings settings;
  if (word == "mixed" || kind.is_always_mixed()) {
    settings.schedule = teaching::DrillSchedule::kMixed;
  } else if (word == "blocked") {
    settings.schedule = teaching::DrillSchedule::kBlocked;
  } else if (word != "blocked_then_mixed") {
    refuse(422, "wrong value", "schedule must be blocked_then_mixed, blocked or mixed");
  }
  return settings;
}

// Nobody outside can work out what comes next: it hangs on the learner and on what only this server knows.
Seed order_of(const Office& office, const Caller& caller, const DrillKind& kind) {
  const std::string hash = records::hash_token(std::to_string(office.drill_secret) + ":" +
                                               caller.person().id + ":" + std::string(kind.id()));
  return Seed{std::strtoull(hash.substr(0, 16).c_str(), nullptr, 16)};
}

Response next(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  const json body = body_of(request);
  const DrillKind& kind = kind_of(body);
  records::Drills drills(desk.db);
  const auto answers = need(drills.answers(caller.person().id));
  const DrillRules rules = rules_for(office, desk, caller);
  if (!rules.modes.contains(std::string(kind.id()))) {
    refuse(409, "not now", "your class does not practise this kind of question now");
  }
  const auto used = teaching::allowed_skills(office.book, kind, rules);
  auto settings = settings_of(body, kind);
  const auto met = teaching::met_of(office.book, kind, used, answers, desk.now_ms);
  settings.opens_new = !rules.new_per_day || met.lately < *rules.new_per_day;
  if (!settings.opens_new && !met.any) {
    refuse(409, "enough for today",
           "your class meets only so many new kinds a day, and you have met them; go on with "
           "another kind of question, or tomorrow");
  }
  auto drill = teaching::drill_of(office.book, kind, used, answers, settings,
                                  order_of(office, caller, kind));
  const auto chosen = drill.next(teaching::days_of(desk.now_ms));
  teaching::Asked asked{used[chosen.skill], chosen.variant, {}, {}};
  if (!kind.is_always_mixed()) asked.skills = rules.skills;
  DrillQuestion question = make_question(office, kind, std::move(asked));
  need(teaching::make_real(office.book, question, drill.realness_for(chosen.skill)));
  question.why_now = reason_word(chosen.reason);
  const records::DrillItemRecord item{records::random_id(), caller.person().id,       question.kind,
                                      question.skill,       json_of(question).dump(), desk.now_ms};
  need(drills.give(item));
  json out = question_json(question, "/api/v1/drill/items/" + item.id + "/sounds");
  out["item_id"] = item.id;
  out["sound_only"] = rules.sound_only;
  return json_answer(out);
}

Response sound(const Office& office, Desk& desk, const Caller& caller, const PathValues& values) {
  const auto item = need(records::Drills(desk.db).item(values.at("id"), caller.person().id));
  return sound_response(office, kept_question(item.detail).sounds, values.at("number"));
}

// What a wrong answer named, as real as the question itself.
std::vector<teaching::DrillSound> named_sounds(const Office& office, const DrillKind& kind,
                                               const DrillQuestion& question,
                                               const std::string& answered) {
  auto sounds = kind.named(office.book, question, answered);
  for (auto& one : sounds) one.realness = question.sounds.front().realness;
  return sounds;
}

// What was named, once the question is answered; before that it would be a hint.
Response named_sound(const Office& office, Desk& desk, const Caller& caller,
                     const PathValues& values) {
  records::Drills drills(desk.db);
  const auto item = need(drills.item(values.at("id"), caller.person().id));
  const auto answers = need(drills.answers(caller.person().id));
  if (std::none_of(answers.begin(), answers.end(),
                   [&](const auto& one) { return one.item_id == item.id; })) {
    refuse(409, "not yet", "this question waits for its answer");
  }
  const DrillQuestion question = kept_question(item.detail);
  const auto& kind = *teaching::find_drill_kind(question.kind);
  return sound_response(office, named_sounds(office, kind, question, values.at("answer")),
                        values.at("number"));
}

// The sound that was named by a wrong answer, to be heard beside the right one.
json named_json(const Office& office, const DrillKind& kind, const DrillQuestion& question,
                const std::string& item_id, const std::string& answered, bool shows_pictures) {
  json out{{"label", question.choice(answered)->label},
           {"sounds", json::array()},
           {"truth_events", json::array()}};
  const auto sounds = named_sounds(office, kind, question, answered);
  for (std::size_t i = 0; i < sounds.size(); ++i) {
    out["sounds"].push_back("/api/v1/drill/items/" + item_id + "/named/" + answered + "/" +
                            std::to_string(i));
    // Made here, so that it plays at once when it is asked for.
    const auto made = need(office.player->play(sounds[i]));
    if (shows_pictures) out["truth_events"].push_back(json(truth_json(*made)));
  }
  return out;
}

json skill_json(const Office& office, Desk& desk, const Caller& caller, const DrillKind& kind,
                const std::string& skill) {
  const auto answers = need(records::Drills(desk.db).answers(caller.person().id));
  const auto drill = teaching::drill_of(office.book, kind, teaching::skills_of(office.book, kind),
                                        answers, {}, Seed{1});
  for (std::size_t k = 0; k < drill.skills().size(); ++k) {
    if (drill.skills()[k].id != skill) continue;
    return json(json_of(teaching::standing_of(kind, drill, k, desk.now_ms)));
  }
  return nullptr;
}

Response answer(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  const json body = body_of(request);
  records::Drills drills(desk.db);
  const auto item = need(drills.item(text_field(body, "item_id", 64), caller.person().id));
  const DrillQuestion question = kept_question(item.detail);
  const DrillKind& kind = *teaching::find_drill_kind(question.kind);
  const std::string answered = text_field(body, "answered", 64);
  if (question.choice(answered) == nullptr) {
    refuse(422, "wrong value", "answered must be one of the choices");
  }
  const double seconds = number_field(body, "seconds", 0.0, 36000.0);
  need(drills.answer(caller.person().id,
                     {item.id, item.mode, item.skill, kind.remembered(question, answered),
                      seconds > kSlow_s, desk.now_ms}));
  const bool is_right = question.accepts(answered);
  const auto* said = kind.chooses_skills() ? office.library->skill(answered) : nullptr;
  const auto* skill = office.library->skill(item.skill);
  const bool is_family =
      is_right || (said != nullptr && skill != nullptr && said->family == skill->family);
  const bool shows_pictures = !rules_for(office, desk, caller).sound_only;
  json events = json::array(), heard = json::array();
  for (const auto& one : question.sounds) {
    const auto made = need(office.player->play(one));
    if (shows_pictures) events.push_back(json(truth_json(*made)));
    heard.push_back(bedside::in_words(made->heard));
  }
  json out{{"is_right", is_right},
           {"is_family_right", is_family},
           {"truth", question.truth},
           {"truth_label", question.choice(question.truth)->label},
           {"accepted", question.accepted},
           {"answered", answered},
           {"reason", question.why_now},
           {"explanation", need(kind.reason(office.book, question))},
           {"heard", std::move(heard)},
           {"truth_events", std::move(events)},
           {"named", nullptr},
           {"skill", skill_json(office, desk, caller, kind, item.skill)}};
  if (!is_right) {
    out["named"] = named_json(office, kind, question, item.id, answered, shows_pictures);
  }
  return json_answer(out);
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
  table.add(for_callers(
      office, {"GET", path + "/items/{id}/named/{answer}/{number}", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return named_sound(*office, desk, caller, values);
      }));
  table.add(
      for_callers(office, {"POST", path + "/answers", Lane::kWork},
                  [office](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return answer(*office, desk, caller, request); }));
}

}  // namespace phren::app::server
