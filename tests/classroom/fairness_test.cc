// What one rude or unlucky client can do to the others: as little as possible.
#include <gmock/gmock.h>
#include <soci/soci.h>

#include <ctime>
#include <future>

#include "app/server/net/lanes.h"
#include "records/classes.h"
#include "records/dump.h"
#include "records/marks.h"
#include "room.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

class Fairness : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid, "ingrid", records::Role::kInstructor, "10.0.0.1");
  }
  std::optional<Browser> ingrid;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Fairness, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Fairness, testing::Values(records::Backend::kPostgresql));

// Every line of a backup is JSON, whatever was asked for meanwhile.
TEST_P(Fairness, ABackupWorksWhateverWasAsked) {
  Browser nobody(*room, "10.0.0.9");
  EXPECT_EQ(nobody.get("encounters/\xFF").status, 401);
  EXPECT_EQ(nobody.get("encounters/" + std::string(8000, 'x')).status, 401);
  std::string accents;
  for (int i = 0; i < 300; ++i) accents += "\xC3\xA9";
  // One of the two is cut in the middle of a character, if characters are not heeded.
  EXPECT_EQ(ingrid->get("encounters/" + accents).status, 404);
  EXPECT_EQ(ingrid->get("encounters/x" + accents).status, 404);
  const std::string id = ingrid->post_json("classes", {{"title", "A"}}, 201)["id"];
  EXPECT_EQ(ingrid->get("classes/" + id + "/export?form=" + accents).status, 422);
  EXPECT_EQ(ingrid->get("classes/" + id + "/export?form=x" + accents).status, 422);
  const auto bad =
      ingrid->ask("PUT", "classes/" + id + "/roster", "login,name\nr,Ren\xE9\n", "text/csv");
  EXPECT_EQ(bad.status, 422);
  EXPECT_THAT(bad.body,
              HasSubstr("row 2: has letters that are not UTF-8; save the table as UTF-8"));

  const auto dump = records::dump_all(room->db());
  ASSERT_TRUE(dump) << dump.error().message;
  EXPECT_EQ(json::parse(dump->substr(0, dump->find('\n')))["phren"], "dump");
  const auto entries = records::read_audit(room->db()).value();
  for (const auto& entry : entries) {
    EXPECT_LE(entry.subject.size(), 200u);
    EXPECT_LE(entry.detail.size(), 500u);
  }
  records::Database other = records::Database::open(fresh()).value();
  EXPECT_TRUE(records::restore_all(other, *dump));
}

// The marks of a station do not wait behind practice.
TEST_P(Fairness, StationsAreMarkedBeforePractice) {
  const Class in = make_class(*ingrid, "a");
  Browser maren(*room, "10.0.0.2"), torvald(*room, "10.0.0.3");
  const std::string station = begin(maren, in, 0);
  torvald.join(in.code, in.keys[1]);
  const auto practise = [&](double end_s, int status) {
    const std::string id =
        torvald.post_json("encounters", {{"case_id", "healthy_volunteer"}}, 201)["id"];
    return torvald.post("encounters/" + id + "/end", {{"id", "e"}, {"t", end_s}}).status == status
               ? id
               : "";
  };
  const std::string practice = practise(3600.0, 200);
  EXPECT_NE(practice, "");
  EXPECT_NE(practise(3601.0, 422), "");
  room->now_ms += 60'000;
  EXPECT_EQ(maren.post("encounters/" + station + "/end", {{"id", "e"}, {"t", 30.0}}).status, 200);
  EXPECT_EQ(records::Marks(room->db()).waiting("x", 8).value(),
            (std::vector<std::string>{station, practice}));
  // Nor does one person's practice fill the queue.
  std::string last;
  for (int i = 0; i < 9; ++i) last = practise(1.0, 200);
  EXPECT_NE(last, "");
  EXPECT_EQ(torvald.post("encounters", {{"case_id", "healthy_volunteer"}}).status, 429);
  room->mark(last);
  EXPECT_EQ(torvald.post("encounters", {{"case_id", "healthy_volunteer"}}).status, 201);
}

double thread_s() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Processor time of the thread itself, so that a busy machine changes nothing.
TEST_P(Fairness, AnUnknownLoginCostsAsMuchAsAKnownOneAndABlockedOneNothing) {
  records::LoginLimits wide;
  wide.most_failures = wide.most_failures_address = 1000;
  records::People people(room->db(), {2, 16u << 20});
  ASSERT_TRUE(people.add("eira", "Eira", records::Role::kExaminer, "another horse", kNow_ms));
  const auto cost_of = [&](const char* login, const records::LoginLimits& limits) {
    double least = 1e9;
    for (int i = 0; i < 6; ++i) {
      const double before = thread_s();
      EXPECT_FALSE(people.login(login, "wrong horse!", kNow_ms, limits, "10.0.0.7"));
      least = std::min(least, thread_s() - before);
    }
    return least;
  };
  const double known = cost_of("eira", wide), unknown = cost_of("nobody", wide);
  EXPECT_LT(unknown, 1.5 * known);
  EXPECT_GT(unknown, 0.67 * known);
  records::LoginLimits none;
  none.most_failures = 0;
  EXPECT_LT(cost_of("eira", none), 0.5 * known);
}

// Only a cookie that was found to be of a session gets places of its own (server/shares.h).
TEST_P(Fairness, AMadeUpCookieIsToldFromASession) {
  Browser stranger(*room, "10.0.0.7");
  stranger.cookie = "phren_session=0123456789abcdef";
  EXPECT_FALSE(stranger.get("classes").has_session);
  EXPECT_TRUE(ingrid->get("classes").has_session);
  EXPECT_TRUE(ingrid->get("classes/none").has_session) << "a refusal tells as much";
  EXPECT_EQ(ingrid->remove("session").status, 200);
  EXPECT_FALSE(ingrid->get("classes").has_session);
}

// Who finds a browser left open cannot try passwords there without end.
TEST_P(Fairness, WrongOldPasswordsAreCounted) {
  const auto change = [&](const char* old) {
    return ingrid->post("session/password", {{"old", old}, {"new", "another horse"}}).status;
  };
  for (int i = 0; i < 8; ++i) EXPECT_EQ(change("wrong horse!"), 422);
  EXPECT_EQ(change(Room::kPassword), 429) << "even with the right one";
  room->now_ms += 16 * 60'000;
  EXPECT_EQ(change(Room::kPassword), 200);
  EXPECT_EQ(change("wrong horse!"), 422) << "counted anew";
}

// One who guesses a login locks out himself, not its owner; and going on prolongs nothing.
TEST_P(Fairness, AGuesserLocksOutOnlyHimself) {
  Browser guesser(*room, "10.0.0.7");
  const auto guess = [&] {
    return guesser.post("session", {{"login", "ingrid"}, {"password", "guess guess"}}).status;
  };
  for (int i = 0; i < 8; ++i) EXPECT_EQ(guess(), 401);
  for (int i = 0; i < 100; ++i) EXPECT_EQ(guess(), 429);
  EXPECT_EQ(room->count_audit("login_blocked"), 1);
  Browser owner(*room, "10.0.0.8");
  owner.log_in("ingrid");
  EXPECT_EQ(owner.get("classes").status, 200);
}

TEST_P(Fairness, ARequestFromAnotherSiteIsNoted) {
  Request request;
  request.method = "POST";
  request.path = "/api/v1/classes";
  request.host = "here";
  request.origin = "http://there";
  request.content_type = "application/json";
  request.cookie = ingrid->cookie;
  request.csrf = ingrid->csrf;
  request.body = R"({"title":"x"})";
  EXPECT_EQ(room->answer(request).status, 403);
  EXPECT_EQ(room->count_audit("refused"), 1);
}

TEST_P(Fairness, NoLoginStaysInTheAuditLog) {
  const std::string id = ingrid->post_json("classes", {{"title", "A"}}, 201)["id"];
  for (const char* roll : {"login,name\nsunniva,S\nsunniva,S\n", "login,name\ningrid,S\n"}) {
    const auto answer = ingrid->ask("PUT", "classes/" + id + "/roster", roll, "text/csv");
    EXPECT_EQ(answer.status, 422);
    EXPECT_THAT(answer.body, testing::AnyOf(HasSubstr("'sunniva'"), HasSubstr("'ingrid'")));
  }
  EXPECT_EQ(room->count_audit("refused"), 2);
  const auto entries = records::read_audit(room->db()).value();
  for (const auto& entry : entries) {
    EXPECT_EQ(entry.detail.find("sunniva"), std::string::npos) << entry.detail;
    EXPECT_EQ(entry.detail.find("ingrid"), std::string::npos) << entry.detail;
  }
}

// Who made a class can hand it on and then be forgotten, judgements included.
TEST_P(Fairness, WhoMadeAClassCanBeForgotten) {
  room->add_person("halvard", records::Role::kInstructor);
  const Class in = make_class(*ingrid, "a");
  records::People people(room->db(), kCheap);
  const std::string maker = people.find_login("ingrid")->id,
                    other = people.find_login("halvard")->id;
  records::Classes classes(room->db());
  ASSERT_TRUE(classes.set_staff(in.id, other, records::ClassRole::kInstructor, maker, kNow_ms));
  ASSERT_TRUE(records::Marks(room->db()).put_angoff(in.station, maker, {{"x", 0.5}}, kNow_ms));
  EXPECT_FALSE(people.remove(maker, other, kNow_ms));
  ASSERT_TRUE(classes.remove_staff(in.id, maker, other, kNow_ms));
  const auto removed = people.remove(maker, other, kNow_ms);
  ASSERT_TRUE(removed) << removed.error().message;
  EXPECT_TRUE(records::Marks(room->db()).angoff(in.station)->empty());
}

// What a restart of PostgreSQL does: the connections are gone, the store is not.
TEST_P(Fairness, TheWorkLaneOutlivesItsConnection) {
  LaneOptions options;
  options.store = fresh();
  auto lanes = Lanes::start(options).value();
  if (GetParam() == records::Backend::kPostgresql) {
    auto other = records::Database::open(options.store).value();
    ASSERT_TRUE(other.transact([](soci::session& sql) -> Status {
      sql << "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()"
             " AND datname = current_database()";
      return {};
    }));
  }
  for (int i = 0; i < 4; ++i) {
    std::promise<bool> can_read;
    ASSERT_TRUE(lanes->submit(
        Lane::kWork,
        [](Desk* desk) { return json_response("{}", records::read_audit(desk->db) ? 200 : 500); },
        [&](Response response) { can_read.set_value(response.status == 200); }));
    EXPECT_TRUE(can_read.get_future().get());
  }
  lanes->finish();
}

}  // namespace
}  // namespace phren::app::server
