// The rules of a round's room, with a clock that the test moves.
#include <gtest/gtest.h>

#include "app/server/api/round_room.h"
#include "base/files.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using Json = nlohmann::ordered_json;
using std::chrono::milliseconds;

std::shared_ptr<const teaching::Library> library() {
  static const auto one = teaching::Library::load(data_directory()).value();
  return one;
}

class RoundRoomTest : public testing::Test {
 protected:
  RoundRoomTest() : room(open({})) {
    desk = &room.member({"p1", "Ailsa", "desk"});
    phone = &room.member({"p2", "", "listener"});
  }
  RoundRoom open(std::vector<records::RoundText> lines) {
    round.id = "r";
    round.case_id = "asthma";
    round.seed = 5;
    return RoundRoom::open(round, library(), {{"p1", "Ailsa", "desk"}, {"p2", "", "listener"}},
                           std::move(lines), now)
        .value();
  }
  // What the hub does: to disk, then known.
  json keep(const Result<records::RoundText>& line) {
    EXPECT_TRUE(line) << line.error().message;
    room.kept(*line);
    stored.push_back(*line);
    return json::parse(line->line);
  }
  void lease() {
    if (const auto wanted = room.lease_wanted(now)) {
      round.reached_take = room.take();
      round.reached_step = *wanted;
      room.lease_granted(room.take(), *wanted);
    }
  }
  json run() {
    const json line = keep(room.word(*desk, {{"clock", "run"}}, now));
    lease();
    return line;
  }
  RoundMember& come(const records::RoundPerson& person, const std::string& address) {
    RoundMember& one = room.member(person);
    one.is_here = true;
    one.came = now;
    one.address = address;
    return one;
  }
  void pass(int ms) {
    now += milliseconds(ms);
    (void)room.horizon(now);
    lease();
  }

  records::Round round;
  SteadyTime now{std::chrono::hours(1)};
  RoundRoom room;
  RoundMember *desk, *phone;
  std::vector<records::RoundText> stored;
  const Json lying{{"id", "d1"}, {"do", "posture"}, {"posture", "lying"}};
};

TEST_F(RoundRoomTest, ASeatIsOfThoseWhoAreHere) {
  for (int i = 0; i < static_cast<int>(RoundRoom::kMostListeners); ++i) {
    const records::RoundPerson one{"q" + std::to_string(i), "", "listener"};
    ASSERT_TRUE(room.seat_for(one, now).is_there) << i;
    come(one, "10.0.0.1");
  }
  const records::RoundPerson late{"late", "", "listener"};
  EXPECT_FALSE(room.seat_for(late, now).is_there);
  EXPECT_TRUE(room.seat_for({"q7", "", "listener"}, now).is_there)
      << "another page of one who is here";
  EXPECT_TRUE(room.seat_for({"p3", "", "desk"}, now).is_there);
  EXPECT_TRUE(room.seat_for({"p4", "", "projector"}, now).is_there)
      << "the wall takes nobody's seat";
  room.members().at("q3").is_here = false;
  EXPECT_TRUE(room.seat_for(late, now).is_there);
  EXPECT_EQ(room.seat_for(late, now).gives_way, "");
}

// Somebody holds what is left of the seats with sockets that never listen.
TEST_F(RoundRoomTest, WhoHoldsManySeatsUnusedKeepsNobodyOut) {
  const int most = static_cast<int>(RoundRoom::kMostListeners);
  for (int i = 0; i < most; ++i) {
    come({"q" + std::to_string(i), "", "listener"}, i < 40 ? "10.0.0.1" : "10.0.0.2");
    now += milliseconds(1);
  }
  const records::RoundPerson late{"late", "", "listener"};
  EXPECT_FALSE(room.seat_for(late, now).is_there) << "who has just come may still be reading";
  // The class listens: by a sum of the body or by a line of one's own. So does one of the holder's.
  for (int i = 0; i < 39; ++i) (void)room.compare("q" + std::to_string(i), 0, 1280, "aa");
  const Json lift = Json::array({Json{{"n", 1}, {"take", 0}, {"step", 0}, {"do", "lift"}}});
  ASSERT_TRUE(room.own(room.members().at("q39"), lift));
  ASSERT_TRUE(room.own(room.members().at("q40"), lift));
  now += RoundRoom::kUnusedSeat;
  for (int i = 41; i < most; ++i) {
    const auto seat = room.seat_for(late, now);
    ASSERT_TRUE(seat.is_there);
    EXPECT_EQ(seat.gives_way, "q" + std::to_string(i)) << "the one that has waited longest";
    room.members().at(seat.gives_way).is_here = false;
    come({"new" + std::to_string(i), "", "listener"}, "10.0.0.1");
    room.members().at("new" + std::to_string(i)).has_lived = true;
  }
  EXPECT_FALSE(room.seat_for(late, now).is_there) << "nobody who listens gives way";
}

TEST_F(RoundRoomTest, OfUnusedSeatsTheAddressWithMostGivesWay) {
  const int most = static_cast<int>(RoundRoom::kMostListeners);
  for (int i = 0; i < most; ++i) {
    come({"q" + std::to_string(i), "", "listener"}, i < 40 ? "10.0.0.1" : "10.0.0.2");
    now += milliseconds(1);
  }
  now += RoundRoom::kUnusedSeat;
  EXPECT_EQ(room.seat_for({"late", "", "listener"}, now).gives_way, "q40")
      << "40 of the class wait for the beginning and came first; the holder has 80";
}

TEST_F(RoundRoomTest, TheDeskSendsAwayAndClosesTheDoor) {
  run();
  keep(room.word(*desk, {{"crew", {{"person", "p2"}, {"is", true}}}}, now));
  for (const json& bad : {json{{"away", "p2"}}, json{{"away", json::array()}},
                          json{{"away", {"p9"}}}, json{{"away", {"p2", "p1"}}}}) {
    EXPECT_FALSE(room.word(*desk, bad, now)) << bad.dump();
  }
  EXPECT_FALSE(phone->is_away) << "a list with a desk in it sends nobody away";
  EXPECT_FALSE(room.word(*phone, {{"away", {"p2"}}}, now));
  EXPECT_FALSE(room.word(*phone, {{"door", "closed"}}, now));
  keep(room.word(*desk, {{"away", {"p2"}}}, now));
  EXPECT_TRUE(phone->is_away);
  EXPECT_FALSE(room.deed(*phone, lying, now)) << "and is no longer crew";
  const auto refused = room.own(*phone, Json::array());
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().message.find("away"), std::string::npos);
  EXPECT_TRUE(is_door_open(stored));
  EXPECT_FALSE(room.word(*desk, {{"door", "ajar"}}, now));
  keep(room.word(*desk, {{"door", "closed"}}, now));
  EXPECT_FALSE(is_door_open(stored));
  // After a kill all of it still holds.
  RoundRoom again = open(stored);
  EXPECT_TRUE(again.members().at("p2").is_away);
  keep(room.word(*desk, {{"door", "open"}}, now));
  EXPECT_TRUE(is_door_open(stored));
}

TEST_F(RoundRoomTest, AnswersAreCountedAndTheWallQuotesNobodyBeforeTheTruthIsShown) {
  run();
  EXPECT_TRUE(room.tally(true).is_null());
  RoundMember& second = come({"p3", "", "listener"}, "");
  const auto ask = [&](const json& options) {
    return keep(room.word(*desk, {{"ask", {{"words", "Which side?"}, {"options", options}}}},
                          now))["n"]
        .get<std::int64_t>();
  };
  const auto answer = [&](RoundMember& who, int n, std::int64_t question, const char* value) {
    const auto lines =
        room.own(who, Json::array({Json{{"n", n},
                                        {"take", 0},
                                        {"step", 1},
                                        {"answer", {{"question", question}, {"value", value}}}}}));
    ASSERT_TRUE(lines) << lines.error().message;
    keep(lines->front());
  };
  const auto side = ask({"Right", "Left"});
  answer(*phone, 1, side, "Left");
  answer(*phone, 2, side, "Right");  // thought again
  answer(second, 1, side, "a rude word");
  for (const bool is_wall : {true, false}) {
    EXPECT_EQ(room.tally(is_wall)["given"], 2);
    EXPECT_EQ(room.tally(is_wall)["counts"].dump(), R"([{"count":1,"value":"Right"}])");
  }
  const auto free = ask(json::array());
  EXPECT_EQ(room.tally(true)["given"], 0) << "another question";
  answer(*phone, 3, side, "Left");
  answer(*phone, 4, free, "needle");
  EXPECT_EQ(room.tally(true)["given"], 1);
  EXPECT_TRUE(room.tally(true)["counts"].empty());
  EXPECT_EQ(room.tally(false)["counts"][0]["value"], "needle");
  EXPECT_EQ(open(stored).tally(false), room.tally(false)) << "as it was, after a kill";
  keep(room.word(*desk, {{"truth", true}}, now));
  EXPECT_EQ(room.tally(true)["counts"][0]["value"], "needle");
  keep(room.word(*desk, {{"ask", nullptr}}, now));
  EXPECT_TRUE(room.tally(false).is_null());
}

TEST_F(RoundRoomTest, TimeStandsUntilItIsRun) {
  pass(5000);
  EXPECT_EQ(room.horizon(now), 0);
  run();
  pass(1000);
  EXPECT_EQ(room.horizon(now), 128);
  keep(room.word(*desk, {{"clock", "pause"}}, now));
  pass(5000);
  EXPECT_NEAR(static_cast<double>(room.horizon(now)), 128.0, 5.0);
}

TEST_F(RoundRoomTest, NoHorizonPassesALineThatIsNotKept) {
  run();
  pass(1000);
  const auto line = room.deed(*desk, lying, now);
  ASSERT_TRUE(line);
  const auto step = json::parse(line->line)["step"].get<std::int64_t>();
  EXPECT_GE(step, 128) << "no device may have passed it";
  pass(3000);
  EXPECT_LE(room.horizon(now), step) << "nobody may pass it before it is on disk";
  EXPECT_EQ(room.last_kept(), 1);
  keep(line);
  EXPECT_EQ(room.last_kept(), 2);
  pass(10);
  EXPECT_GT(room.horizon(now), step + 128);
}

TEST_F(RoundRoomTest, NoHorizonPassesTheLeaseAndAfterAKillTimeGoesOnFromThere) {
  run();
  now += std::chrono::seconds(60);  // the store was away: no lease was granted
  EXPECT_LE(room.horizon(now), round.reached_step);
  lease();
  const auto told = room.horizon(now);
  EXPECT_GT(told, 7000);
  // Killed: only what is stored is left.
  RoundRoom again = open(stored);
  EXPECT_GE(again.horizon(now), told) << "no device has lived further than this";
  EXPECT_TRUE(again.is_running());
  RoundMember& lead = again.member({"p1", "Ailsa", "desk"});
  const auto line = again.deed(lead, lying, now);
  ASSERT_TRUE(line);
  EXPECT_EQ(line->n, 2);
  EXPECT_GE(json::parse(line->line)["step"].get<std::int64_t>(), told);
}

TEST_F(RoundRoomTest, ALearnerCannotSteer) {
  run();
  const Json steer{{"id", "s"}, {"do", "steer"}, {"condition", 0}, {"severity", 0.1}};
  EXPECT_FALSE(room.deed(*phone, lying, now));
  EXPECT_FALSE(room.deed(*phone, steer, now));
  for (const json& word : {json{{"clock", "pause"}}, json{{"truth", true}}, json{{"end", true}},
                           json{{"crew", {{"person", "p2"}, {"is", true}}}}}) {
    const auto refused = room.word(*phone, word, now);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().message.find("only the desk"), std::string::npos);
  }
  // Crew treats and moves, and still does not steer.
  keep(room.word(*desk, {{"crew", {{"person", "p2"}, {"is", true}}}}, now));
  EXPECT_TRUE(room.deed(*phone, lying, now));
  const auto refused = room.deed(*phone, steer, now);
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().message.find("illness"), std::string::npos);
  EXPECT_TRUE(room.deed(*desk, steer, now));
}

TEST_F(RoundRoomTest, OwnLinesAreTakenOnceInOrderAndNeverOfTheBody) {
  run();
  pass(1000);
  const auto own = [&](int n, const char* what, int step = 100) {
    Json line{{"n", n}, {"take", 0}, {"step", step}, {"do", what}};
    if (std::string(what) == "place") line.update({{"aspect", "back"}, {"u", 0.4}, {"v", 0.8}});
    if (std::string(what) == "posture") line["posture"] = "lying";
    return Json::array({line});
  };
  ASSERT_TRUE(room.own(*phone, own(1, "place")));
  EXPECT_EQ(room.own(*phone, own(1, "place"))->size(), 0U) << "sent twice, taken once";
  EXPECT_FALSE(room.own(*phone, own(3, "lift"))) << "line 2 is missing";
  EXPECT_FALSE(room.own(*phone, own(2, "posture"))) << "that concerns all";
  EXPECT_FALSE(room.own(*phone, own(2, "lift", 100000))) << "not ahead of the patient's time";
  EXPECT_FALSE(room.own(*phone, own(2, "dance")));
  EXPECT_TRUE(room.own(*phone, own(2, "lift")));
}

TEST_F(RoundRoomTest, GoingBackBeginsATakeAndStandsThere) {
  run();
  pass(3000);
  keep(room.deed(*desk, lying, now));
  pass(3000);
  EXPECT_FALSE(room.word(*desk, {{"go_back_s", 3600}}, now)) << "that has not been yet";
  const auto line = room.word(*desk, {{"go_back_s", 1.0}}, now);
  ASSERT_TRUE(line);
  EXPECT_FALSE(room.may_tell_time()) << "not before the new take is on disk";
  keep(line);
  EXPECT_TRUE(room.may_tell_time());
  EXPECT_EQ(room.take(), 1);
  pass(2000);
  EXPECT_EQ(room.horizon(now), 128);
  EXPECT_FALSE(room.is_running());
  RoundRoom again = open(stored);
  EXPECT_EQ(again.take(), 1);
  EXPECT_EQ(again.horizon(now), 128);
}

TEST_F(RoundRoomTest, TheTruthIsInNoLineBeforeItIsShown) {
  run();
  keep(room.deed(*desk, Json{{"id", "s"}, {"do", "steer"}, {"condition", 0}, {"severity", 1.0}},
                 now));
  for (const std::string& line : room.since(0)) {
    EXPECT_EQ(line.find("asthma"), std::string::npos) << line;
    EXPECT_EQ(line.find("sthma"), std::string::npos) << line;
  }
  keep(room.word(*desk, {{"truth", true}}, now));
  EXPECT_NE(room.since(2).front().find("sthma"), std::string::npos);
}

TEST_F(RoundRoomTest, WhoLivesAnotherBodyIsFound) {
  EXPECT_TRUE(room.compare("p1", 0, 1280, "aa").empty());
  EXPECT_TRUE(room.compare("p2", 0, 1280, "aa").empty());
  EXPECT_EQ(room.compare("p3", 0, 1280, "bb"), std::vector<std::string>{"p3"});
  EXPECT_TRUE(room.compare("p3", 3, 1280, "bb").empty()) << "another take is not compared";
}

TEST_F(RoundRoomTest, ASumFromLongBeforeIsLeftOut) {
  for (const int step : {5, 6, 7, 8}) {
    EXPECT_TRUE(room.compare("p1", 0, 1280 * step, "aa").empty());
  }
  EXPECT_TRUE(room.compare("p2", 0, 1280, "bb").empty());
}

TEST_F(RoundRoomTest, BadInputIsRefusedInWords) {
  for (const Json& bad :
       {Json{{"id", "a"}, {"do", "treat"}, {"treatment", "magic"}},
        Json{{"id", "a"}, {"do", "place"}}, Json{{"do", "posture"}, {"posture", "lying"}},
        Json{{"id", "a"}, {"do", "steer"}, {"condition", 7}, {"severity", 0.5}},
        Json{{"id", "a"}, {"do", "steer"}, {"condition", 0}, {"severity", 7}}}) {
    const auto refused = room.deed(*desk, bad, now);
    ASSERT_FALSE(refused) << bad.dump();
    EXPECT_FALSE(refused.error().message.empty());
  }
  for (const json& bad :
       {json{{"skip_s", -5}}, json{{"clock", "stop"}}, json{{"dance", 1}},
        json{{"go_back_s", 1e300}}, json{{"listen", {{"aspect", "knee"}, {"u", 0}, {"v", 0}}}},
        json{{"ask", {{"words", ""}}}}, json::array()}) {
    EXPECT_FALSE(room.word(*desk, bad, now)) << bad.dump();
  }
  ASSERT_TRUE(room.deed(*desk, lying, now));
  EXPECT_FALSE(room.deed(*desk, lying, now)) << "the same deed is done once";
}

}  // namespace
}  // namespace phren::app::server
