// What a learner, a guest or a colleague with a key could try at a station, and what comes of it.
#include <gmock/gmock.h>

#include <array>

#include "room.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

json lift(const std::string& id, double t) {
  return {{"id", id}, {"t", t}, {"do", "lift"}};
}

class Abuse : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid, "ingrid", records::Role::kInstructor, "10.0.0.1");
    maren.emplace(*room, "10.0.0.3");
  }
  void set_state(const Class& in, const std::string& state) {
    ingrid->post_json("stations/" + in.station + "/state", {{"state", state}});
  }
  int act(Browser& who, const std::string& encounter, const json& action) {
    return who.post("encounters/" + encounter + "/actions", {{"actions", {action}}}).status;
  }
  std::string note_of(const std::string& event) {
    const auto entries = records::read_audit(room->db()).value();
    for (const auto& entry : entries) {
      if (entry.event == event) return entry.detail;
    }
    return "";
  }
  std::string address_of(const std::string& event) {
    const auto entries = records::read_audit(room->db()).value();
    for (const auto& entry : entries) {
      if (entry.event == event) return entry.address;
    }
    return "";
  }
  std::optional<Browser> ingrid, maren;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Abuse, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Abuse, testing::Values(records::Backend::kPostgresql));

TEST_P(Abuse, NobodyWritesDownNowWhatHeClaimsToHaveDoneLongAgo) {
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 0.0}});
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 1'000'000;
  EXPECT_EQ(act(*maren, id, lift("old", 99.0)), 409);
  EXPECT_EQ(act(*maren, id, lift("offline", 600.0)), 200) << "a phone off the network for 400 s";
  EXPECT_THAT(note_of("late_actions"), HasSubstr("400 s"));
  EXPECT_EQ(act(*maren, id, lift("now", 999.0)), 200);
  EXPECT_EQ(room->count_audit("late_actions"), 1);
  room->now_ms += 1'000'000;
  EXPECT_EQ(act(*maren, id, lift("offline", 600.0)), 200) << "sent again: it is there already";
  EXPECT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 1000.0}}).status, 409);
  EXPECT_EQ(room->count_audit("refused"), 2);
  // Practice may let minutes pass at once, and be slow.
  const std::string own =
      maren->post_json("encounters", {{"case_id", "healthy_volunteer"}}, 201)["id"];
  room->now_ms += 600'000;
  EXPECT_EQ(act(*maren, own, lift("a", 1.0)), 200);
}

TEST_P(Abuse, AnAddressComesIntoARoundOnlySoOften) {
  const auto open = [&] {
    return ingrid->post_json("rounds", {{"case_id", "asthma"}}, 201)["round"]["code"];
  };
  // Sixty phones behind one router, in three short rounds.
  std::array<json, 3> codes{open(), open(), open()};
  for (const json& code : codes) {
    for (int i = 0; i < 60; ++i)
      ASSERT_EQ(maren->post("rounds/join", {{"code", code}}).status, 201);
  }
  for (int i = 60; i < 150; ++i) {
    ASSERT_EQ(maren->post("rounds/join", {{"code", codes[0]}}).status, 201) << i;
  }
  const auto refused = maren->post("rounds/join", {{"code", codes[0]}});
  EXPECT_EQ(refused.status, 429);
  EXPECT_THAT(refused.body, HasSubstr("wait 15 minutes"));
  EXPECT_EQ(maren->post("rounds/join", {{"code", codes[1]}}).status, 201) << "another round";
  Browser torvald(*room, "10.0.0.4");
  EXPECT_EQ(torvald.post("rounds/join", {{"code", codes[0]}}).status, 201) << "another address";
  room->now_ms += 16 * 60 * 1000;
  EXPECT_EQ(maren->post("rounds/join", {{"code", codes[0]}}).status, 201) << "later";
}

TEST_P(Abuse, TheServersClockJudgesTheTimeLimit) {
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 400.0}});
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 650'000;
  EXPECT_EQ(act(*maren, id, lift("offline", 390.0)), 200);
  room->now_ms += 51'000;
  EXPECT_EQ(act(*maren, id, lift("late", 399.0)), 409);
  EXPECT_EQ(act(*maren, id, lift("offline", 390.0)), 200) << "it is there already";
  EXPECT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 399.0}}).status, 409);
  // With a quarter more time there is more of it.
  Browser torvald(*room, "10.0.0.4");
  const std::string longer = begin(torvald, in, 2);
  room->now_ms += 790'000;
  EXPECT_EQ(act(torvald, longer, lift("a", 390.0)), 200);
}

TEST_P(Abuse, AClosedStationTakesOnlyWhatWasOnItsWay) {
  const Class in = make_class(*ingrid, "a");
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 100'000;
  set_state(in, "closed");
  room->now_ms += 59'000;
  EXPECT_EQ(act(*maren, id, lift("a", 99.0)), 200);
  EXPECT_EQ(act(*maren, id, lift("b", 159.0)), 422) << "done after the closing";
  room->now_ms += 2'000;
  EXPECT_EQ(act(*maren, id, lift("c", 100.0)), 409);
  EXPECT_EQ(maren->get("cases/asthma").status, 403) << "the case stays hidden until the release";
  set_state(in, "released");
  EXPECT_EQ(maren->get("cases/asthma").status, 200);
}

TEST_P(Abuse, AnothersEncounterIsNotThereWhateverItsState) {
  const Class in = make_class(*ingrid, "a");
  const std::string id = begin(*maren, in, 0);
  Browser torvald(*room, "10.0.0.4");
  torvald.join(in.code, in.keys[1]);
  for (const char* state : {"closed", "released"}) {
    set_state(in, state);
    EXPECT_EQ(act(torvald, id, lift("a", 1.0)), 404) << state;
  }
}

TEST_P(Abuse, NobodyEscapesAMarkByNeverEnding) {
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 60.0}});
  const std::string report = "classes/" + in.id + "/report?station=" + in.station;
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 30'000;
  const auto unknown = maren->post(
      "encounters/" + id + "/actions",
      {{"actions", {{{"id", "t"}, {"t", 20.0}, {"do", "treat"}, {"treatment", "snake_oil"}}}}});
  EXPECT_EQ(unknown.status, 422);
  EXPECT_THAT(unknown.body, HasSubstr("snake_oil"));
  EXPECT_EQ(act(*maren, id, lift("a", 20.0)), 200);
  Browser torvald(*room, "10.0.0.4");
  const std::string other = begin(torvald, in, 2);  // has a quarter more time
  std::map<std::string, std::string> why;
  for (const json& one : json(ingrid->get_json(report)["unmarked"])) {
    why[one["person_id"]] = one["why"];
  }
  EXPECT_EQ(why.at(in.people[0]), "has not ended");
  EXPECT_EQ(why.at(in.people[1]), "did not begin");
  room->now_ms += 1'000'000;
  set_state(in, "closed");
  room->now_ms += 3'600'000;
  set_state(in, "released");
  EXPECT_EQ(room->count_audit("ended_by_server"), 2);
  for (const auto& [encounter, end_s] : {std::pair{id, 60.0}, std::pair{other, 75.0}}) {
    EXPECT_EQ(ingrid->get_json("encounters/" + encounter)["last_t"], end_s);
    room->mark(encounter);
    const json mark = ingrid->get_json("encounters/" + encounter + "/mark");
    EXPECT_FALSE(mark["passed"].get<bool>());
    EXPECT_FALSE(mark["over_time"].get<bool>()) << "time ran out, nothing was done after it";
  }
  const json after = ingrid->get_json(report);
  EXPECT_EQ(after["learners"], 2);
  ASSERT_EQ(after["unmarked"].size(), 1u);
  EXPECT_EQ(after["unmarked"][0]["why"], "did not begin");
}

TEST_P(Abuse, AJoinedSessionBeginsOnlyTheStationItJoined) {
  const Class in = make_class(*ingrid, "a");
  json plan = ingrid->get_json("stations/" + in.station);
  const json second = ingrid->post_json("classes/" + in.id + "/stations", plan, 201);
  ingrid->post_json("stations/" + second["id"].get<std::string>() + "/state", {{"state", "open"}});
  maren->join(in.code, in.keys[0]);
  EXPECT_EQ(maren->post("encounters", {{"station_id", second["id"]}}).status, 403);
  EXPECT_EQ(maren->post("encounters", {{"station_id", in.station}}).status, 201);
  maren->join(ingrid->get_json("classes/" + in.id)["join_code"], in.keys[0]);
  EXPECT_EQ(maren->post("encounters", {{"station_id", second["id"]}}).status, 403);
  maren->join(second["join_code"], in.keys[0]);
  EXPECT_EQ(maren->post("encounters", {{"station_id", second["id"]}}).status, 201);
}

TEST_P(Abuse, GuestsAreCountedByStationAndByAddress) {
  const Class in = make_class(*ingrid, "a", {{"admission", "open"}});
  const json body{{"code", in.code}, {"name", "Guest"}};
  for (int i = 0; i < 200; ++i) {
    Browser guest(*room, "10.1.0." + std::to_string(i / 60));
    ASSERT_EQ(guest.post("join", body).status, 200) << i;
    if (i == 59) {
      EXPECT_EQ(guest.post("join", body).status, 429);
    }
  }
  Browser late(*room, "10.1.0.9");
  EXPECT_EQ(late.post("join", body).status, 409);
  late.join(in.code, in.keys[0]);
  EXPECT_EQ(late.get_json("session")["class_id"], in.id) << "who is on the roll still gets in";
}

TEST_P(Abuse, KeysAreForInstructorsAndGoodForOneClassOnly) {
  const Class one = make_class(*ingrid, "a"), other = make_class(*ingrid, "a");
  ASSERT_EQ(one.people, other.people) << "the same learners on both rolls";
  ingrid->post_json(
      "classes/" + one.id + "/staff",
      {{"login", "eira"}, {"role", "examiner"}, {"name", "Eira"}, {"password", "another horse"}});
  Browser eira(*room, "10.0.0.9");
  eira.csrf = eira.post_json("session", {{"login", "eira"}, {"password", "another horse"}})["csrf"];
  for (const json& member : json(eira.get_json("classes/" + one.id)["members"])) {
    EXPECT_EQ(member["key"], "") << member;
  }
  const std::string there = begin(*maren, other, 0);
  maren->post_json("encounters/" + there + "/end", {{"id", "e"}, {"t", 0.0}});
  const std::string here = begin(*maren, one, 0);
  EXPECT_EQ(address_of("joined"), "10.0.0.3");
  EXPECT_EQ(maren->get("encounters/" + here).status, 200);
  for (const char* part : {"", "/log", "/config", "/mark", "/debrief"}) {
    EXPECT_EQ(maren->get("encounters/" + there + part).status, 404) << part;
  }
  EXPECT_EQ(act(*maren, there, lift("a", 1.0)), 404);
  EXPECT_EQ(maren->get("classes/" + other.id).status, 404);
  EXPECT_EQ(maren->get_json("classes")["classes"].size(), 1u);
  EXPECT_EQ(maren->get_json("me")["encounters"].size(), 1u);
  const std::string own(maren->get("people/" + one.people[0] + "/export").bytes());
  EXPECT_THAT(own, HasSubstr(here));
  EXPECT_EQ(own.find(there), std::string::npos);
  EXPECT_EQ(own.find(other.keys[0]), std::string::npos);
}

TEST_P(Abuse, AStationMayHaveADrawnPatientThatNobodyCanList) {
  const Class in = make_class(*ingrid, "a", {{"case_ids", {"surprise-beginner-new"}}});
  const std::string drawn = ingrid->get_json("stations/" + in.station)["case_ids"][0];
  EXPECT_GE(drawn.size(), std::string("surprise-beginner-").size() + 16) << drawn;
  const std::string id = begin(*maren, in, 0);
  EXPECT_EQ(maren->get("encounters/" + id).body.find(drawn), std::string::npos);
  EXPECT_EQ(maren->get("encounters/" + id + "/config").status, 200);
  EXPECT_EQ(maren->get("cases/" + drawn).status, 403);
  const std::string zeros = "surprise-beginner-00" + drawn.substr(18);
  EXPECT_EQ(maren->get("cases/" + zeros).status, 403) << "the same patient, spelled otherwise";
  EXPECT_EQ(maren->get("cases/" + zeros + "/config").status, 403);
  EXPECT_EQ(maren->post("encounters", {{"case_id", zeros}}).status, 403);
  room->now_ms += 20'000;
  maren->post_json("encounters/" + id + "/end", {{"id", "e"}, {"t", 20.0}});
  room->mark(id);
  EXPECT_EQ(ingrid->get("encounters/" + id + "/mark").status, 200);
  json plan = ingrid->get_json("stations/" + in.station);
  for (const char* bad : {"surprise-nobody-new", "surprise-beginner-4711"}) {
    plan["case_ids"] = {bad};
    EXPECT_EQ(ingrid->post("classes/" + in.id + "/stations", plan).status, 422) << bad;
  }
  plan["case_ids"] = {"random-n1-casthma-008589934592"};
  EXPECT_EQ(ingrid->post_json("classes/" + in.id + "/stations", plan, 201)["case_ids"][0],
            "random-a16_90-bany-s30_90-n1-casthma-8589934592");
}

// Extra time that is granted or put right after marking counts, both ways.
TEST_P(Abuse, ExtraTimeCountsWheneverItIsGranted) {
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 60.0}});
  const std::string id = begin(*maren, in, 0);
  room->now_ms += 70'000;
  EXPECT_EQ(maren->post("encounters/" + id + "/end", {{"id", "e"}, {"t", 70.0}}).status, 200);
  room->mark(id);
  const auto is_over = [&] {
    return ingrid->get_json("encounters/" + id + "/mark")["over_time"].get<bool>();
  };
  EXPECT_TRUE(is_over());
  for (const auto& [percent, over] : {std::pair{"25", false}, std::pair{"10", true}}) {
    const std::string roll =
        "login,name,extra_time_percent\na1,Maren," + std::string(percent) + "\n";
    EXPECT_EQ(ingrid->ask("PUT", "classes/" + in.id + "/roster", roll, "text/csv").status, 200);
    EXPECT_EQ(is_over(), over) << percent;
  }
}

// The case comes into sight when its release is on disk, not before.
TEST_P(Abuse, ACaseIsShownOnlyWhenItsReleaseIsKept) {
  const Class in = make_class(*ingrid, "a");
  set_state(in, "closed");
  std::vector<std::function<void()>> after_commit;
  Desk desk{room->db(), room->now_ms, &after_commit};
  Request request;
  request.method = "POST";
  request.path = "/api/v1/stations/" + in.station + "/state";
  request.host = "127.0.0.1:8080";
  request.content_type = "application/json";
  request.cookie = ingrid->cookie;
  request.csrf = ingrid->csrf;
  request.body = R"({"state":"released"})";
  EXPECT_EQ(room->table().answer(request, &desk).status, 200);
  EXPECT_TRUE(room->office().cases_in_use->has("asthma"));
  for (const auto& after : after_commit) after();  // the marker's bell is among them
  EXPECT_FALSE(room->office().cases_in_use->has("asthma"));
}

}  // namespace
}  // namespace phren::app::server
