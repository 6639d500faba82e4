// The ability test: questions chosen by what was answered so far, nothing said until the end.
#include <algorithm>
#include <cstdlib>

#include "app/server/api/ability_view.h"
#include "app/server/api/classroom.h"
#include "app/server/api/drill_items.h"
#include "app/server/api/guard.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::AbilityItemRecord;
using records::AbilityTestRecord;

constexpr std::int64_t kGivenUp_ms = 24LL * 3600 * 1000;
// As long as the longest specimen, so that length gives nothing away.
constexpr double kSoundSeconds = 16.0;

std::uint64_t secret_number() {
  return std::strtoull(records::random_id().substr(0, 13).c_str(), nullptr, 16);
}

std::vector<std::string> classes_of(Desk& desk, const Caller& caller) {
  if (!caller.session.class_id.empty()) return {caller.session.class_id};
  return need(records::AbilityTests(desk.db).classes_of(caller.person().id));
}

const teaching::Skill& skill_of(const Office& office, const std::string& id) {
  for (const auto& skill : office.skills) {
    if (skill.id == id) return skill;
  }
  refuse(409, "changed", "this test asks for a kind of sound that is no longer taught; end it");
}

bool is_waiting(const AbilityTestRecord& test) {
  return !test.items.empty() && test.items.back().answered_ms == 0;
}

// Ends the test or asks the next question, unless one waits for its answer.
AbilityTestRecord advanced(const Office& office, Desk& desk, AbilityTestRecord test) {
  if (test.ended_ms > 0 || is_waiting(test)) return test;
  records::AbilityTests tests(desk.db);
  LivedTest lived = need(live_again(test));
  const auto chosen = lived.test.next();
  if (!chosen) {
    const auto why = lived.test.stop_reason();
    need(tests.end(test.id,
                   why == teaching::StopReason::kPrecise    ? "precise"
                   : why == teaching::StopReason::kMaxItems ? "most_items"
                                                            : "nothing_left",
                   desk.now_ms));
  } else {
    const std::size_t kind = *chosen % lived.bank.kinds.size();
    const BankKind& of = lived.bank.kinds[kind];
    // Neither id says anything of the other: the truth cannot be worked out from what is sent.
    const DrillTask task = need(make_task(office, of.mode, skill_of(office, of.skill),
                                          static_cast<std::size_t>(secret_number() % 1000),
                                          Seed{secret_number()}, kSoundSeconds));
    AbilityItemRecord item;
    item.id = records::random_id();
    item.mode = of.mode;
    item.skill = of.skill;
    item.kind = static_cast<std::int64_t>(kind);
    item.detail = task_text(task);
    item.asked_ms = desk.now_ms;
    need(tests.ask(test.id, test.items.size(), item));
  }
  return need(tests.find(test.id, test.person_id));
}

json item_json(const Office& office, const AbilityTestRecord& test) {
  if (test.ended_ms > 0 || !is_waiting(test)) return nullptr;
  const AbilityItemRecord& item = test.items.back();
  const DrillTask task = need(task_from_text(item.detail));
  json choices = json::array(), sounds = json::array();
  for (const auto& choice : choices_of(office, item.mode, task)) {
    choices.push_back({{"id", choice.id}, {"label", choice.label}});
  }
  for (std::size_t i = 0; i < task.sounds.size(); ++i) {
    sounds.push_back("/api/v1/ability-tests/" + test.id + "/items/" + item.id + "/sounds/" +
                     std::to_string(i));
  }
  return {{"item_id", item.id},
          {"mode", item.mode},
          {"question", question_of(item.mode, task)},
          {"sounds", std::move(sounds)},
          {"sound_labels", sound_labels_of(item.mode, task)},
          {"has_one_gain", has_one_gain(office, item.mode, task)},
          {"choices", std::move(choices)}};
}

Response test_answer(const Office& office, const AbilityTestRecord& test, int status = 200) {
  json out = need(ability_row(test));
  out["most_items"] = kMostItems;
  out["target_se"] = kTargetSe;
  out["item"] = item_json(office, test);
  return json_answer(out, status);
}

Response start(const Office& office, Desk& desk, const Caller& caller, BankShelf& banks) {
  records::AbilityTests tests(desk.db);
  for (AbilityTestRecord& one : need(tests.of_person(caller.person().id))) {
    if (one.ended_ms > 0) continue;
    if (desk.now_ms - one.started_ms > kGivenUp_ms) {
      need(tests.end(one.id, "given_up", desk.now_ms));
      continue;
    }
    return test_answer(office, advanced(office, desk, std::move(one)));
  }
  AbilityTestRecord test;
  test.id = records::random_id();
  test.person_id = caller.person().id;
  test.seed = std::to_string(secret_number());
  test.bank = bank_text(need(banks.get(office, tests, classes_of(desk, caller), desk.now_ms)));
  test.started_ms = desk.now_ms;
  need(tests.start(test));
  return test_answer(office, advanced(office, desk, std::move(test)), 201);
}

Response answer(const Office& office, Desk& desk, const Caller& caller, const Request& request,
                const std::string& id) {
  const json body = body_of(request);
  const std::string item_id = text_field(body, "item_id", 64);
  const std::string answered = text_field(body, "answered", 64);
  records::AbilityTests tests(desk.db);
  AbilityTestRecord test = need(tests.find(id, caller.person().id));
  const auto found = std::find_if(test.items.begin(), test.items.end(),
                                  [&](const auto& one) { return one.id == item_id; });
  if (found == test.items.end()) refuse(404, "not found", "this test has no such question");
  // Sent again: the first answer stands, and the answer is where the test is now.
  if (found->answered_ms == 0) {
    if (test.ended_ms > 0) refuse(409, "has ended", "this test has ended; begin a new one");
    const DrillTask task = need(task_from_text(found->detail));
    const auto choices = choices_of(office, found->mode, task);
    if (std::none_of(choices.begin(), choices.end(),
                     [&](const DrillChoice& one) { return one.id == answered; })) {
      refuse(422, "wrong value", "answered must be one of the choices");
    }
    found->answered = answered;
    found->is_right = answered == task.truth;
    found->answered_ms = desk.now_ms;
    need(tests.answer(id, *found));
    test = need(tests.find(id, caller.person().id));
  }
  return test_answer(office, advanced(office, desk, std::move(test)));
}

Response stop(const Office& office, Desk& desk, const Caller& caller, const std::string& id) {
  records::AbilityTests tests(desk.db);
  need(tests.find(id, caller.person().id));
  need(tests.end(id, "stopped", desk.now_ms));
  return test_answer(office, need(tests.find(id, caller.person().id)));
}

Response sound(const Office& office, Desk& desk, const Caller& caller, const PathValues& values) {
  const auto test = need(records::AbilityTests(desk.db).find(values.at("id"), caller.person().id));
  for (const auto& item : test.items) {
    if (item.id != values.at("item")) continue;
    const DrillTask task = need(task_from_text(item.detail));
    return sound_response(office, task, values.at("number"));
  }
  refuse(404, "not found", "this test has no such question");
}

}  // namespace

void add_ability_routes(RouteTable& table, const OfficePtr& office) {
  const std::string all = "/api/v1/ability-tests", one = all + "/{id}";
  const auto banks = std::make_shared<BankShelf>();
  table.add(for_callers(
      office, {"POST", all, Lane::kWork},
      [office, banks](Desk& desk, const Caller& caller, const Request& request, const PathValues&) {
        body_of(request);
        return start(*office, desk, caller, *banks);
      }));
  table.add(for_callers(
      office, {"GET", one, Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        records::AbilityTests tests(desk.db);
        return test_answer(*office, need(tests.find(values.at("id"), caller.person().id)));
      }));
  table.add(for_callers(
      office, {"POST", one + "/answers", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return answer(*office, desk, caller, request, values.at("id"));
      }));
  table.add(for_callers(
      office, {"POST", one + "/stop", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        body_of(request);
        return stop(*office, desk, caller, values.at("id"));
      }));
  table.add(for_callers(
      office, {"GET", one + "/items/{item}/sounds/{number}", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return sound(*office, desk, caller, values);
      }));
}

}  // namespace phren::app::server
