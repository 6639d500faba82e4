// The ability test: questions chosen by what was answered so far, nothing said until the end.
#include <algorithm>
#include <cstdlib>
#include <map>
#include <mutex>

#include "app/server/api/ability_view.h"
#include "app/server/api/classroom.h"
#include "app/server/api/drill_view.h"
#include "base/json_fields.h"
#include "records/passwords.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::AbilityItemRecord;
using records::AbilityTestRecord;

constexpr std::int64_t kGivenUp_ms = 24LL * 3600 * 1000;

// Banks made lately, so that a class that begins together makes one. Threads: any.
class RecentBanks {
 public:
  Result<teaching::AbilityBank> get(const Office& office, records::AbilityTests& tests,
                                    const std::vector<std::string>& class_ids,
                                    std::int64_t now_ms) {
    const std::lock_guard lock(mutex_);
    if (kept_.size() > 1000) kept_.clear();
    Kept& kept = kept_[class_ids];
    if (kept.made_ms > 0 && now_ms - kept.made_ms < kFresh_ms) return kept.bank;
    const auto tallies = TRY(tests.tallies(class_ids));
    kept = {TRY(teaching::make_bank(office.book, tallies)), now_ms};
    return kept.bank;
  }

 private:
  static constexpr std::int64_t kFresh_ms = 600'000;
  struct Kept {
    teaching::AbilityBank bank;
    std::int64_t made_ms = 0;
  };
  std::mutex mutex_;
  std::map<std::vector<std::string>, Kept> kept_;
};

std::uint64_t secret_number() {
  return std::strtoull(records::random_id().substr(0, 13).c_str(), nullptr, 16);
}

std::vector<std::string> classes_of(Desk& desk, const Caller& caller) {
  if (!caller.session.class_id.empty()) return {caller.session.class_id};
  return need(records::AbilityTests(desk.db).classes_of(caller.person().id));
}

bool is_waiting(const AbilityTestRecord& test) {
  return !test.items.empty() && test.items.back().answered_ms == 0;
}

// Neither id nor seed says anything of the other: the truth cannot be worked out from what is sent.
teaching::DrillQuestion question_of(const Office& office, const teaching::BankKind& of) {
  const auto* kind = teaching::find_drill_kind(of.mode);
  const auto* skill = office.library->skill(of.skill);
  if (kind == nullptr || skill == nullptr) {
    refuse(409, "changed", "this test asks for a kind of sound that is no longer taught; end it");
  }
  return make_question(office, *kind,
                       {static_cast<std::size_t>(skill - office.library->skills.data()),
                        static_cast<std::size_t>(secret_number() % 1000),
                        {},
                        {}});
}

// Ends the test or asks the next question, unless one waits for its answer.
AbilityTestRecord advanced(const Office& office, Desk& desk, AbilityTestRecord test) {
  if (test.ended_ms > 0 || is_waiting(test)) return test;
  records::AbilityTests tests(desk.db);
  auto lived = need(live_again(test));
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
    const auto question = question_of(office, lived.bank.kinds[kind]);
    AbilityItemRecord item;
    item.id = records::random_id();
    item.mode = question.kind;
    item.skill = lived.bank.kinds[kind].skill;
    item.kind = static_cast<std::int64_t>(kind);
    item.detail = json_of(question).dump();
    item.asked_ms = desk.now_ms;
    need(tests.ask(test.id, test.items.size(), item));
  }
  return need(tests.find(test.id, test.person_id));
}

json item_json(const AbilityTestRecord& test) {
  if (test.ended_ms > 0 || !is_waiting(test)) return nullptr;
  const AbilityItemRecord& item = test.items.back();
  json out = question_json(kept_question(item.detail),
                           "/api/v1/ability-tests/" + test.id + "/items/" + item.id + "/sounds");
  out["item_id"] = item.id;
  return out;
}

Response test_answer(const AbilityTestRecord& test, int status = 200) {
  json out = need(ability_row(test));
  out["most_items"] = teaching::kMostItems;
  out["target_se"] = teaching::kTargetSe;
  out["item"] = item_json(test);
  return json_answer(out, status);
}

// Not when its question was made by another version of the program.
bool can_go_on(const AbilityTestRecord& test) {
  return !is_waiting(test) ||
         read_record_text<teaching::DrillQuestion>(test.items.back().detail, "a kept question");
}

Response start(const Office& office, Desk& desk, const Caller& caller, RecentBanks& banks) {
  records::AbilityTests tests(desk.db);
  for (AbilityTestRecord& one : need(tests.of_person(caller.person().id))) {
    if (one.ended_ms > 0) continue;
    if (desk.now_ms - one.started_ms > kGivenUp_ms || !can_go_on(one)) {
      need(tests.end(one.id, "given_up", desk.now_ms));
      continue;
    }
    return test_answer(advanced(office, desk, std::move(one)));
  }
  AbilityTestRecord test;
  test.id = records::random_id();
  test.person_id = caller.person().id;
  test.seed = std::to_string(secret_number());
  test.bank = json_of(need(banks.get(office, tests, classes_of(desk, caller), desk.now_ms))).dump();
  test.started_ms = desk.now_ms;
  need(tests.start(test));
  return test_answer(advanced(office, desk, std::move(test)), 201);
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
    const auto question = kept_question(found->detail);
    if (question.choice(answered) == nullptr) {
      refuse(422, "wrong value", "answered must be one of the choices");
    }
    found->answered = answered;
    found->is_right = question.accepts(answered);
    found->answered_ms = desk.now_ms;
    need(tests.answer(id, *found));
    test = need(tests.find(id, caller.person().id));
  }
  return test_answer(advanced(office, desk, std::move(test)));
}

Response stop(Desk& desk, const Caller& caller, const std::string& id) {
  records::AbilityTests tests(desk.db);
  need(tests.find(id, caller.person().id));
  need(tests.end(id, "stopped", desk.now_ms));
  return test_answer(need(tests.find(id, caller.person().id)));
}

Response sound(const Office& office, Desk& desk, const Caller& caller, const PathValues& values) {
  const auto test = need(records::AbilityTests(desk.db).find(values.at("id"), caller.person().id));
  for (const auto& item : test.items) {
    if (item.id != values.at("item")) continue;
    return sound_response(office, kept_question(item.detail).sounds, values.at("number"));
  }
  refuse(404, "not found", "this test has no such question");
}

}  // namespace

void add_ability_routes(RouteTable& table, const OfficePtr& office) {
  const std::string all = "/api/v1/ability-tests", one = all + "/{id}";
  const auto banks = std::make_shared<RecentBanks>();
  table.add(for_callers(
      office, {"POST", all, Lane::kWork},
      [office, banks](Desk& desk, const Caller& caller, const Request& request, const PathValues&) {
        body_of(request);
        return start(*office, desk, caller, *banks);
      }));
  table.add(
      for_callers(office, {"GET", one, Lane::kWork},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    records::AbilityTests tests(desk.db);
                    return test_answer(need(tests.find(values.at("id"), caller.person().id)));
                  }));
  table.add(for_callers(
      office, {"POST", one + "/answers", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return answer(*office, desk, caller, request, values.at("id"));
      }));
  table.add(for_callers(
      office, {"POST", one + "/stop", Lane::kWork},
      [](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        body_of(request);
        return stop(desk, caller, values.at("id"));
      }));
  table.add(for_callers(
      office, {"GET", one + "/items/{item}/sounds/{number}", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return sound(*office, desk, caller, values);
      }));
}

}  // namespace phren::app::server
