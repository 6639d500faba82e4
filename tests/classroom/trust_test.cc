// What a class must be able to rely on: the clock, the log that settles an appeal, who may reach what,
// hands that are none, an exam's patient that tells nothing.
#include <gmock/gmock.h>

#include <array>
#include <cmath>
#include <cstring>
#include <set>
#include <thread>

#include "app/server/net/class_clock.h"
#include "patient/keyed_pack.h"
#include "room.h"
#include "teaching/library.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

json deed(const std::string& id, double t, json more) {
  more["id"] = id;
  more["t"] = t;
  return more;
}

class Trust : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid, "ingrid", records::Role::kInstructor, "10.0.0.1");
    maren.emplace(*room, "10.0.0.3");
  }
  int act(Browser& who, const std::string& encounter, const json& actions) {
    return who.post("encounters/" + encounter + "/actions", {{"actions", actions}}).status;
  }
  std::vector<records::AuditEntry> entries_of(const std::string& event) {
    auto all = records::read_audit(room->db()).value();
    std::erase_if(all, [&](const auto& one) { return one.event != event; });
    return all;
  }
  std::optional<Browser> ingrid, maren;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Trust, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Trust, testing::Values(records::Backend::kPostgresql));

// ---- the clock ----

TEST_P(Trust, TheMachinesClockMayJumpDuringTwentyEncounters) {
  std::int64_t wall_ms = kNow_ms, passed_ms = 0;
  const ClassClock clock(0, {[&] { return wall_ms; }, [&] { return passed_ms; }});
  room->now_ms = clock.now_ms();
  std::string roll = "login,name\n";
  for (int i = 0; i < 20; ++i) roll += "l" + std::to_string(i) + ",Learner\n";
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 900.0}});
  ASSERT_EQ(ingrid->ask("PUT", "classes/" + in.id + "/roster", roll, "text/csv").status, 200);
  std::vector<std::pair<Browser, std::string>> all;
  for (const json& one : json(ingrid->get_json("classes/" + in.id)["members"])) {
    if (all.size() == 20) break;
    Browser learner(*room, "10.0.1." + std::to_string(all.size()));
    learner.join(in.code, one["key"]);
    const std::string id = learner.post_json("encounters", {{"station_id", in.station}}, 201)["id"];
    all.emplace_back(std::move(learner), id);
  }
  double t = 0.0;
  for (const std::int64_t jump_ms :
       {-60'000LL, 20 * 60'000LL, 13 * 3'600'000LL, -13 * 3'600'000LL}) {
    wall_ms += jump_ms;
    passed_ms += 30'000;
    t += 30.0;
    room->now_ms = clock.now_ms();
    for (auto& [learner, id] : all) {
      const json lift{deed("a" + std::to_string(std::lround(t)), t - 0.5, {{"do", "lift"}})};
      const Response done = learner.post("encounters/" + id + "/actions", {{"actions", lift}});
      EXPECT_EQ(done.status, 200) << "after a jump by " << jump_ms << " ms: " << done.body;
    }
  }
  for (auto& [learner, id] : all) {
    EXPECT_EQ(learner.post("encounters/" + id + "/end", {{"id", "e"}, {"t", t}}).status, 200);
  }
}

TEST_P(Trust, WhatIsAheadOfTheClockIsTakenWhenTheClockHasComeSoFar) {
  const Class in = make_class(*ingrid, "a");
  const std::string id = begin(*maren, in, 0);
  const json ahead{deed("a", 45.0, {{"do", "lift"}})};
  const Response early = maren->post("encounters/" + id + "/actions", {{"actions", ahead}});
  EXPECT_EQ(early.status, 503) << "pages send this again; 422 they take as final";
  EXPECT_TRUE(std::any_of(early.headers.begin(), early.headers.end(),
                          [](const Header& one) { return one.name == "Retry-After"; }));
  room->now_ms += 40'000;
  EXPECT_EQ(act(*maren, id, ahead), 200);
}

// ---- the log ----

TEST_P(Trust, TheLogSettlesWhatWasThereBefore) {
  const json item{{"id", "speaks"}, {"text", "Explains"}, {"rule", "examiner"}, {"points", 4}};
  const Class in = make_class(*ingrid, "a");
  json plan = ingrid->get_json("stations/" + in.station);
  const std::string other = ingrid->post_json(
      "classes/" + in.id + "/stations",
      {{"title", "Second"}, {"case_ids", {"asthma"}}, {"checklist", plan["checklist"]}}, 201)["id"];
  json changed{{"title", "Second"}, {"case_ids", {"asthma"}}, {"checklist", plan["checklist"]}};
  changed["checklist"]["pass_share"] = 0.1;
  ASSERT_EQ(ingrid->put("stations/" + other, changed).status, 200);
  const auto changes = entries_of("station_changed");
  ASSERT_EQ(changes.size(), 1u);
  const double before = plan["checklist"]["pass_share"];
  EXPECT_EQ(json::parse(changes[0].was).at("/plan/checklist/pass_share"), before) << changes[0].was;
  EXPECT_EQ(json::parse(changes[0].became).at("/plan/checklist/pass_share"), 0.1);

  const std::string id = begin(*maren, in, 0);
  ASSERT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 1.0}}).status, 200);
  room->mark(id);
  for (const int rating : {3, 5}) {
    ASSERT_EQ(ingrid->put("encounters/" + id + "/examiner", {{"global_rating", rating}}).status,
              200);
  }
  const auto marks = entries_of("mark_set");
  ASSERT_EQ(marks.size(), 2u);
  EXPECT_EQ(json::parse(marks[1].was)["points"], 3.0);
  EXPECT_EQ(json::parse(marks[1].became)["points"], 5.0);

  ingrid->get("classes/" + in.id);
  ingrid->get("encounters/" + id + "/log");
  maren->get("encounters/" + id + "/log");
  ingrid->get("people/" + in.people[0] + "/export");
  maren->remove("session");
  for (const auto& [event, count] :
       std::vector<std::pair<const char*, std::size_t>>{{"encounter_begun", 1},
                                                        {"encounter_ended", 1},
                                                        {"log_read", 1},
                                                        {"person_exported", 1},
                                                        {"logout", 1}}) {
    EXPECT_EQ(entries_of(event).size(), count) << event;
  }
  EXPECT_GE(entries_of("keys_read").size(), 1u);
  EXPECT_EQ(entries_of("logout")[0].address, "10.0.0.3");
  EXPECT_EQ(entries_of("login")[0].address, "10.0.0.1");
  EXPECT_TRUE(records::verify_audit(room->db())) << "and all of it holds together";
}

TEST_P(Trust, NobodyIsTakenOffAStaffOnWhichHeIsNot) {
  const Class in = make_class(*ingrid, "a");
  EXPECT_EQ(ingrid->remove("classes/" + in.id + "/staff/nobody").status, 404);
}

// ---- input ----

TEST_P(Trust, ANameWithANulIsRefusedOnBothStores) {
  const std::string nul = R"({"title": "a\u0000b"})";
  EXPECT_EQ(ingrid->ask("POST", "classes", nul).status, 422);
  const Class in = make_class(*ingrid, "a");
  const std::string roll("login,name\nx\0y,Maren\n", 21);
  EXPECT_EQ(ingrid->ask("PUT", "classes/" + in.id + "/roster", roll, "text/csv").status, 400);
}

// ---- hands ----

TEST_P(Trust, WhatNoHandsCanDoIsRefusedAndWhatTheyHardlyDoIsShown) {
  const Class in = make_class(*ingrid, "a");
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 31'000;
  json taps = json::array(), postures = json::array();
  for (int i = 0; i < 100; ++i) {
    taps.push_back(deed("t" + std::to_string(i), 5.0,
                        {{"do", "tap"}, {"aspect", "front"}, {"u", 0.5}, {"v", 0.4}}));
    postures.push_back(deed("p" + std::to_string(i), 5.0 + 1e-5 * i,
                            {{"do", "posture"}, {"posture", i % 2 ? "lying" : "sitting"}}));
  }
  EXPECT_EQ(act(*maren, id, taps), 422);
  EXPECT_EQ(act(*maren, id, postures), 422);
  // Eighteen deeds at a human pace, all written down 31 s after the start.
  json late = json::array();
  for (int i = 0; i < 9; ++i) {
    const double t = 1.0 + 1.137 * i;
    late.push_back(
        deed("a" + std::to_string(i), t,
             {{"do", "place"}, {"aspect", "front"}, {"u", i % 2 ? 0.6 : -0.6}, {"v", 0.1 * i}}));
    late.push_back(deed("b" + std::to_string(i), t + 1.0, {{"do", "lift"}}));
  }
  EXPECT_EQ(act(*maren, id, late), 200);
  ASSERT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 31.0}}).status, 200);
  room->mark(id);
  const json mark = ingrid->get_json("encounters/" + id + "/mark");
  std::set<std::string> rules;
  for (const json& one : mark["doubts"]) rules.insert(one["rule"]);
  EXPECT_TRUE(rules.count("sent_together")) << mark["doubts"];
  EXPECT_GE(entries_of("odd_log").size(), 1u);
  ingrid->post_json("stations/" + in.station + "/state", {{"state", "closed"}});
  ingrid->post_json("stations/" + in.station + "/state", {{"state", "released"}});
  EXPECT_TRUE(maren->get_json("encounters/" + id + "/mark")["doubts"].empty());
}

// ---- many at once ----

// In version 0.1 one of twenty was answered with 500 on PostgreSQL.
TEST_P(Trust, MarksOfManyAtOnceAreAllKeptInTheLogAndOneStands) {
  const Class in = make_class(*ingrid, "a");
  const std::string id = begin(*maren, in, 0);
  ASSERT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 1.0}}).status, 200);
  room->mark(id);
  constexpr int kMarks = 20;
  std::array<int, kMarks> statuses{};
  std::vector<std::thread> threads;
  for (int i = 0; i < kMarks; ++i) {
    threads.emplace_back([&, i] {
      auto own = records::Database::open(room->connection).value();
      Request request;
      request.method = "PUT";
      request.path = "/api/v1/encounters/" + id + "/examiner";
      request.host = "127.0.0.1:8080";
      request.content_type = "application/json";
      request.cookie = ingrid->cookie;
      request.csrf = ingrid->csrf;
      request.body = json{{"global_rating", 1 + i % 5}}.dump();
      // A conflict of two writers is answered with 503, and pages send again.
      for (int tries = 0; tries < 50; ++tries) {
        Desk desk{own, room->now_ms};
        statuses[static_cast<std::size_t>(i)] = room->table().answer(request, &desk).status;
        if (statuses[static_cast<std::size_t>(i)] != 503) break;
      }
    });
  }
  for (std::thread& one : threads) one.join();
  for (const int status : statuses) EXPECT_EQ(status, 200);
  // Whoever sets what stands already changes nothing: five values, so at least five entries.
  EXPECT_GE(entries_of("mark_set").size(), 5u);
  EXPECT_LE(entries_of("mark_set").size(), static_cast<std::size_t>(kMarks));
  const json sheet = ingrid->get_json("encounters/" + id + "/examiner");
  EXPECT_GE(sheet["mine"]["global_rating"].get<int>(), 1);
  EXPECT_TRUE(records::verify_audit(room->db())) << "and the chain has no two entries at one place";
}

// ---- an exam's patient ----

std::string bytes_of(const std::vector<double>& numbers) {
  std::string bytes(numbers.size() * sizeof(double), '\0');
  std::memcpy(bytes.data(), numbers.data(), bytes.size());
  return bytes;
}

TEST(ExamPatient, ItsBytesAreThoseOfNoPatientThatAnybodyCanSee) {
  const auto library = teaching::Library::load(data_directory()).value();
  const teaching::Library& shelf = *library;
  // Every run of two numbers of a condition's curves, as the public patients carry them.
  std::set<std::string> runs;
  for (const auto& prepared : shelf.cases) {
    const auto config =
        patient::configure(prepared.patient, shelf.conditions, shelf.treatments).value();
    for (const auto& condition : config.conditions) {
      for (const auto& effect : condition.effects) {
        const std::string bytes = bytes_of({effect.curve.at.begin(), effect.curve.at.end()});
        for (std::size_t i = 0; i + 2 <= effect.curve.at.size(); ++i) {
          const std::string run = bytes.substr(i * 8, 16);
          if (run != std::string(16, '\0')) runs.insert(run);
        }
      }
    }
  }
  ASSERT_GT(runs.size(), 20u);
  int num_found = 0, num_plain = 0;
  std::set<std::size_t> lengths;
  for (int i = 0; i < 200; ++i) {
    const auto& prepared = shelf.cases[static_cast<std::size_t>(i) % shelf.cases.size()];
    const auto config =
        patient::configure(prepared.patient, shelf.conditions, shelf.treatments).value();
    const auto numbers =
        patient::pack_keyed(config, 0x1234567 + static_cast<std::uint64_t>(i) * 77);
    const std::string hidden = bytes_of(numbers), plain = bytes_of(patient::pack(config));
    lengths.insert(hidden.size());
    for (const std::string& run : runs) {
      num_found += hidden.find(run) != std::string::npos ? 1 : 0;
      num_plain += plain.find(run) != std::string::npos ? 1 : 0;
    }
    const auto back = patient::unpack(numbers);
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_EQ(bytes_of(patient::pack(*back)),
              bytes_of(patient::pack(patient::unpack(patient::pack(config)).value())));
  }
  std::printf("%zu public runs: %d in plain patients, %d under their keys; %zu lengths\n",
              runs.size(), num_plain, num_found, lengths.size());
  EXPECT_GT(num_plain, 200);
  EXPECT_EQ(num_found, 0);
  EXPECT_EQ(lengths.size(), 1u);
}

}  // namespace
}  // namespace phren::app::server
