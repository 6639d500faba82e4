// A class from its first day to its report: what the pages will do, on both stores.
#include <gmock/gmock.h>

#include <algorithm>

#include "app/server/api/ability_view.h"
#include "bedside/log_text.h"
#include "bedside/replay.h"
#include "records/drills.h"
#include "room.h"
#include "teaching/marking/mark.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

class Flow : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid, "ingrid", records::Role::kInstructor, "10.0.0.1");
  }
  // Examines well, middling or badly: 0, 1, 2.
  std::string perform(const Class& in, std::size_t who, int quality) {
    Browser learner(*room, "10.0.1." + std::to_string(who));
    const std::string id = begin(learner, in, who);
    room->now_ms += 300'000;
    json actions = json::array();
    int n = 0;
    const auto add = [&](double t, json fields) {
      fields["id"] = "a" + std::to_string(n++);
      fields["t"] = t;
      actions.push_back(std::move(fields));
    };
    if (quality < 2) add(1, {{"do", "expose"}, {"part", "all"}});
    add(2, {{"do", "measure"}, {"vital", "spo2_percent"}});
    add(3, {{"do", "measure"}, {"vital", "heart_rate_per_min"}});
    add(3, {{"do", "measure"}, {"vital", "respiratory_rate_per_min"}});
    const int places = quality == 0 ? 6 : 2;
    for (int i = 0; i < places; ++i) {
      const double u = (i % 2 ? 0.4 : -0.4);
      add(5 + 6 * i, {{"do", "place"}, {"aspect", "back"}, {"u", u}, {"v", 0.5 + 0.1 * (i / 2)}});
    }
    add(45, {{"do", "lift"}});
    if (quality < 2) add(46, {{"do", "report"}, {"finding", "wheeze"}});
    if (quality == 2) add(46, {{"do", "report"}, {"finding", "fine_crackles"}});
    if (quality == 0) {
      add(50, {{"do", "treat"}, {"treatment", "inhaled_bronchodilator"}});
      add(70, {{"do", "place"}, {"aspect", "back"}, {"u", 0.4}, {"v", 0.7}});
      add(80, {{"do", "rank"}, {"conditions", {"asthma"}}});
    }
    learner.post_json("encounters/" + id + "/actions", {{"actions", actions}});
    learner.post_json("encounters/" + id + "/end", {{"id", "end"}, {"t", 90.0}});
    return id;
  }

  std::optional<Browser> ingrid;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Flow, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Flow, testing::Values(records::Backend::kPostgresql));

TEST_P(Flow, MarksAreThoseOfTheNativeReplay) {
  const Class in = make_class(*ingrid, "a");
  std::vector<double> points;
  for (std::size_t who = 0; who < 3; ++who) {
    const std::string id = perform(in, who, static_cast<int>(who));
    EXPECT_EQ(ingrid->get("encounters/" + id + "/mark").status, 202);
    room->mark(id);
    const json mark = ingrid->get_json("encounters/" + id + "/mark");
    // The same from the log as it goes out, by hand.
    const std::string text(ingrid->get("encounters/" + id + "/log").bytes());
    const auto log = bedside::parse_log(text, id).value().log;
    const teaching::Case& prepared = *room->office().library->find("asthma");
    const teaching::Library& library = *room->office().library;
    const auto performance =
        bedside::replay(log,
                        teaching::setup_of(prepared, library.conditions, library.treatments,
                                           library.instruments)
                            .value(),
                        library.sites)
            .value();
    for (const auto& checklist : room->office().library->checklists) {
      if (checklist.id != "asthma_station") continue;
      const auto sheet = teaching::mark(performance, checklist, room->office().library->sites);
      EXPECT_DOUBLE_EQ(mark["points"].get<double>(), sheet.points);
      EXPECT_EQ(mark["passed"].get<bool>(), sheet.passed);
      ASSERT_EQ(mark["items"].size(), sheet.items.size());
      for (std::size_t i = 0; i < sheet.items.size(); ++i) {
        EXPECT_EQ(mark["items"][i]["reason"], sheet.items[i].reason);
      }
    }
    points.push_back(mark["points"]);
  }
  EXPECT_GT(points[0], points[1]);
  EXPECT_GT(points[1], points[2]);
}

TEST_P(Flow, ExtraTimeLengthensOnlyThatLearnersStation) {
  const Class in = make_class(*ingrid, "a", {{"time_limit_s", 400.0}});
  Browser maren(*room, "1"), torvald(*room, "2");
  const json first = maren.get_json("encounters/" + begin(maren, in, 0));
  const json second = torvald.get_json("encounters/" + begin(torvald, in, 2));
  EXPECT_EQ(first["time_limit_s"], 400.0);
  EXPECT_EQ(second["time_limit_s"], 500.0);  // Torvald is the third by name
  EXPECT_EQ(second["ends_ms"].get<std::int64_t>() - second["started_ms"].get<std::int64_t>(),
            500'000);
}

TEST_P(Flow, IdenticalPatientsAreOneAndParallelOnesAreDealt) {
  const Class same = make_class(*ingrid, "a");
  const Class dealt = make_class(
      *ingrid, "b", {{"patients", "parallel"}, {"case_ids", {"asthma", "cardiogenic_oedema"}}});
  std::vector<json> met;
  for (const Class& in : {same, dealt}) {
    for (std::size_t who = 0; who < 3; ++who) {
      Browser learner(*room, "x");
      met.push_back(learner.get_json("encounters/" + begin(learner, in, who)));
    }
  }
  EXPECT_EQ(met[0]["seed"], met[1]["seed"]);
  EXPECT_NE(met[3]["seed"], met[5]["seed"]);
  EXPECT_EQ(met[3]["patient"]["title"], met[5]["patient"]["title"]);
  EXPECT_NE(met[3]["patient"]["title"], met[4]["patient"]["title"]);
}

TEST_P(Flow, AReloadedBrowserGoesOnWhereItWas) {
  const Class in = make_class(*ingrid, "a");
  Browser maren(*room, "1");
  const std::string id = begin(maren, in, 0);
  maren.post_json("encounters/" + id + "/actions",
                  {{"actions", {{{"id", "a"}, {"t", 1}, {"do", "lift"}}}}});
  Browser again(*room, "2");
  again.join(in.code, in.keys[0]);
  const json same = again.post_json("encounters", {{"station_id", in.station}});
  EXPECT_EQ(same["id"], id);
  EXPECT_EQ(same["actions"], 1);
  // The first browser's session ended when the second joined.
  EXPECT_EQ(maren.get("encounters/" + id).status, 401);
}

TEST_P(Flow, ExaminersMarkJoinAndReleaseThemAll) {
  const json item{{"id", "speaks"}, {"text", "Explains"}, {"rule", "examiner"}, {"points", 4}};
  json checklist;
  for (const json& one : json(ingrid->get_json("checklists")["checklists"])) {
    if (one["id"] == "asthma_station") checklist = one;
  }
  checklist["items"].push_back(item);
  const Class in = make_class(*ingrid, "a", {{"checklist", checklist}});
  const std::string id = perform(in, 0, 0);
  room->mark(id);
  const std::string path = "encounters/" + id;
  const double before = ingrid->get_json(path + "/mark")["points"];
  EXPECT_EQ(
      ingrid->put(path + "/examiner", {{"marks", {{{"item_id", "pairs"}, {"points", 0}}}}}).status,
      422)
      << "changing what the log says needs a reason";
  const json sheet = ingrid->put_json(
      path + "/examiner", {{"marks", {{{"item_id", "speaks"}, {"points", 3}, {"note", "Clear."}}}},
                           {"global_rating", 4}});
  EXPECT_EQ(sheet["mine"]["global_rating"], 4.0);
  const json mark = ingrid->get_json(path + "/mark");
  EXPECT_DOUBLE_EQ(mark["points"].get<double>(), before + 3.0);
  EXPECT_EQ(mark["items"].back()["by"], "examiner");
  EXPECT_THAT(mark["items"].back()["reason"].get<std::string>(), HasSubstr("Clear."));
  ingrid->post_json("stations/" + in.station + "/state", {{"state", "closed"}});
  ingrid->post_json("stations/" + in.station + "/state", {{"state", "released"}});
  EXPECT_EQ(ingrid->put(path + "/examiner", {{"global_rating", 1}}).status, 409);
  Browser maren(*room, "1");
  EXPECT_EQ(maren.post("join", {{"code", in.code}, {"name", "Somebody"}}).status, 409);
  EXPECT_EQ(maren.post("join", {{"code", in.code}, {"key", in.keys[0]}}).status, 200)
      << "by key one may come back to see the result";
  // A class code lets learners see their results after the station.
  const std::string code = ingrid->get_json("classes/" + in.id)["join_code"];
  maren.join(code, in.keys[0]);
  const json mine = maren.get_json("me");
  ASSERT_EQ(mine["encounters"].size(), 1u);
  EXPECT_DOUBLE_EQ(mine["encounters"][0]["points"].get<double>(), before + 3.0);
  EXPECT_EQ(maren.get(path + "/mark").status, 200);
}

TEST_P(Flow, TheReportSaysEachNumberInASentenceAndWhatItCannotTell) {
  const Class in = make_class(*ingrid, "a");
  for (std::size_t who = 0; who < 3; ++who) room->mark(perform(in, who, static_cast<int>(who)));
  const json report = ingrid->get_json("classes/" + in.id + "/report?station=" + in.station);
  EXPECT_EQ(report["learners"], 3);
  std::map<std::string, json> by_id;
  for (const json& line : report["statistics"]) by_id[line["id"]] = line;
  EXPECT_GT(by_id.at("cronbach_alpha")["estimate"]["value"].get<double>(), 0.0);
  EXPECT_FALSE(by_id.at("cronbach_alpha")["meaning"].get<std::string>().empty());
  EXPECT_TRUE(by_id.at("krippendorff")["estimate"].is_null());
  EXPECT_FALSE(by_id.at("krippendorff")["note"].get<std::string>().empty());
  EXPECT_FALSE(report["items"].empty());
  EXPECT_EQ(report["abilities"].size(), 3u);
  EXPECT_EQ(report["cases"][0]["learners"], 3);
  EXPECT_EQ(ingrid->get("classes/" + in.id + "/report").status, 200);
}

TEST_P(Flow, EveryExportIsWhatItSaysItIs) {
  const Class in = make_class(*ingrid, "a");
  room->mark(perform(in, 0, 0));
  const std::string path = "classes/" + in.id + "/export?station=" + in.station + "&form=";
  EXPECT_THAT(std::string(ingrid->get(path + "csv").bytes()), StartsWith("learner,checklist,item"));
  const json xapi = json::parse(ingrid->get(path + "xapi").body);
  EXPECT_EQ(xapi[0]["verb"]["display"]["en"], "completed");
  const json fhir = json::parse(ingrid->get(path + "fhir").body);
  EXPECT_EQ(fhir["resourceType"], "Bundle");
  EXPECT_THAT(ingrid->get(path + "fhir").body, HasSubstr("59408-5")) << "the SpO2 that was taken";
  EXPECT_THAT(ingrid->get(path + "nemsis").body, HasSubstr("eExam.23"));
  EXPECT_THAT(ingrid->get(path + "pdf").body, StartsWith("%PDF"));
  EXPECT_THAT(ingrid->get(path + "answers").body, StartsWith("learner,mode"));
  EXPECT_EQ(ingrid->get(path + "docx").status, 422);
}

TEST_P(Flow, StandardSettingTakesRatingsAndJudges) {
  const Class in = make_class(*ingrid, "a");
  const std::string path = "stations/" + in.station;
  for (std::size_t who = 0; who < 3; ++who) {
    const std::string id = perform(in, who, static_cast<int>(who));
    room->mark(id);
    ingrid->put_json("encounters/" + id + "/examiner",
                     {{"global_rating", 5 - 2 * static_cast<int>(who)}});
  }
  json standard = ingrid->get_json(path + "/standard");
  EXPECT_EQ(standard["candidates"], 3);
  EXPECT_TRUE(standard["borderline_group"].is_object()) << standard;
  EXPECT_TRUE(standard["borderline_regression"].is_null()) << "three are too few for a line";
  EXPECT_TRUE(standard["angoff"].is_null());
  EXPECT_EQ(standard["notes"].size(), 2u);
  json chances;
  for (const json& item : json(ingrid->get_json(path)["checklist"]["items"])) {
    chances[item["id"].get<std::string>()] = 0.5;
  }
  ingrid->put_json(path + "/angoff", {{"chances", chances}});
  EXPECT_EQ(ingrid->put(path + "/angoff", {{"chances", {{"nothing", 0.5}}}}).status, 422);
  EXPECT_TRUE(ingrid->get_json(path + "/standard")["angoff"].is_null()) << "one judge is too few";
  ingrid->post_json(
      "classes/" + in.id + "/staff",
      {{"login", "eira"}, {"role", "examiner"}, {"name", "Eira"}, {"password", "another horse"}});
  Browser eira(*room, "2");
  eira.csrf = eira.post_json("session", {{"login", "eira"}, {"password", "another horse"}})["csrf"];
  eira.put_json(path + "/angoff", {{"chances", chances}});
  standard = ingrid->get_json(path + "/standard");
  EXPECT_EQ(standard["angoff"]["judges"], 2);
  EXPECT_DOUBLE_EQ(standard["angoff"]["share"].get<double>(), 0.5);
}

TEST_P(Flow, ThePlanCannotChangeUnderALearner) {
  const Class in = make_class(*ingrid, "a");
  const std::string path = "stations/" + in.station;
  json plan = ingrid->get_json(path);
  plan["title"] = "Renamed";
  plan["checklist"]["pass_share"] = 0.55;
  EXPECT_EQ(ingrid->put_json(path, plan)["title"], "Renamed");
  plan["case_ids"] = {"healthy_volunteer"};
  EXPECT_EQ(ingrid->put(path, plan).status, 409);
  EXPECT_EQ(ingrid->post(path + "/state", {{"state", "released"}}).status, 409);
}

TEST_P(Flow, TheBoardAndTheCodeOfAStation) {
  const Class in = make_class(*ingrid, "a");
  Browser torvald(*room, "2");
  torvald.join(in.code, in.keys[1]);
  const std::string id = perform(in, 0, 0);
  json board = ingrid->get_json("stations/" + in.station + "/board");
  EXPECT_EQ(board["learners"][0]["phase"], "ended");
  EXPECT_EQ(board["learners"][1]["phase"], "joined");
  EXPECT_EQ(board["learners"][2]["phase"], "absent");
  room->mark(id);
  board = ingrid->get_json("stations/" + in.station + "/board");
  EXPECT_EQ(board["learners"][0]["phase"], "marked");
  EXPECT_GT(board["learners"][0]["points"].get<double>(), 0.0);
  EXPECT_THAT(
      ingrid->get_json("stations/" + in.station + "/join")["addresses"][0].get<std::string>(),
      HasSubstr("/#/join/" + in.code));
  EXPECT_THAT(ingrid->get("stations/" + in.station + "/qr").body, StartsWith("<svg"));
  EXPECT_EQ(ingrid->get("stations/" + in.station + "/qr?address=http://evil").status, 422);
}

TEST_P(Flow, TheDrillAsksPlaysAndRemembers) {
  const Class in = make_class(*ingrid, "a");
  Browser maren(*room, "1");
  maren.join(in.code, in.keys[0]);
  for (const char* mode : {"name", "phase", "side", "lobe", "same"}) {
    SCOPED_TRACE(mode);
    const json item = maren.post_json("drill/next", {{"mode", mode}});
    EXPECT_EQ(item.dump().find("truth"), std::string::npos);
    for (const json& url : item["sounds"]) {
      const auto sound = maren.get(url.get<std::string>().substr(8));
      EXPECT_EQ(sound.status, 200);
      EXPECT_THAT(std::string(sound.bytes().substr(0, 4)), "RIFF");
    }
    const json answer{
        {"item_id", item["item_id"]}, {"answered", item["choices"][0]["id"]}, {"seconds", 4.0}};
    const json first = maren.post_json("drill/answers", answer);
    const json said = item["choices"][0]["id"];
    const json& also = first["accepted"];
    const bool is_right =
        first["truth"] == said || std::find(also.begin(), also.end(), said) != also.end();
    EXPECT_EQ(first["is_right"], is_right);
    EXPECT_EQ(first["heard"].size(), item["sounds"].size());
    EXPECT_EQ(first["named"].is_null(), is_right);
    if (!is_right) {  // what was named can be heard beside what was right
      ASSERT_FALSE(first["named"]["sounds"].empty());
      EXPECT_EQ(maren.get(first["named"]["sounds"][0].get<std::string>().substr(8)).status, 200);
    }
    EXPECT_FALSE(first["explanation"].get<std::string>().empty());
    EXPECT_EQ(first["truth_events"].size(), item["sounds"].size());
    EXPECT_EQ(first["skill"]["plays"], 1);
    EXPECT_EQ(maren.post_json("drill/answers", answer)["skill"]["plays"], 1) << "counted once";
    Browser torvald(*room, "2");
    torvald.join(in.code, in.keys[1]);
    EXPECT_EQ(torvald.post("drill/answers", answer).status, 404);
  }
  const json me = maren.get_json("me");
  EXPECT_EQ(me["confusion"]["labels"].size(), 11u);
  const json skills = ingrid->get_json("classes/" + in.id + "/skills");
  EXPECT_EQ(skills["learners"].size(), 3u);
}

// A learner of ability 1 who knows nothing of the server's inside; the test reads the truth from
// the store, where the learner cannot.
TEST_P(Flow, AnAbilityTestTellsNothingUntilItStopsByItself) {
  constexpr double kAbility = 1.0;
  constexpr std::uint64_t kSeed = 5;
  const Class in = make_class(*ingrid, "a");
  Browser maren(*room, "1"), torvald(*room, "2");
  maren.join(in.code, in.keys[0]);
  torvald.join(in.code, in.keys[1]);
  json test = maren.post_json("ability-tests", json::object(), 201);
  const std::string path = "ability-tests/" + test["id"].get<std::string>();
  EXPECT_EQ(test["bank"]["measured"], 0) << "nobody has practised yet";
  EXPECT_EQ(torvald.get(path).status, 404);
  const auto sound = test["item"]["sounds"][0].get<std::string>().substr(8);
  EXPECT_EQ(torvald.get(sound).status, 404);
  EXPECT_THAT(std::string(maren.get(sound).bytes().substr(0, 4)), "RIFF");
  RandomStream random(Seed{kSeed}, "examinee");
  records::AbilityTests store(room->db());
  for (int i = 0; i < 120 && !test["item"].is_null(); ++i) {
    EXPECT_EQ(test.dump().find("truth"), std::string::npos);
    EXPECT_TRUE(test["ability"].is_null() && test["right"].is_null() && test["share"].is_null());
    const json item = test["item"];
    const auto kept = store.find(test["id"].get<std::string>(), in.people[0]).value();
    const json detail = json::parse(kept.items.back().detail);
    const auto bank = live_again(kept).value().bank;
    const auto& kind = bank.kinds[static_cast<std::size_t>(kept.items.back().kind)];
    std::string answered = detail["truth"];
    if (!random.chance(teaching::probability_right({1, 0, kind.guess}, kAbility))) {
      for (const json& one : item["choices"]) {
        if (one["id"] != detail["truth"]) answered = one["id"];
      }
    }
    const json given{{"item_id", item["item_id"]}, {"answered", answered}};
    EXPECT_EQ(torvald.post(path + "/answers", given).status, 404);
    test = maren.post_json(path + "/answers", given);
    if (i == 3) {
      EXPECT_EQ(maren.post_json(path + "/answers", given)["answered"], 4) << "counted once";
      EXPECT_EQ(maren.post_json("ability-tests", json::object())["item"], test["item"])
          << "goes on where it was";
      const std::string mine(maren.get("people/" + in.people[0] + "/export").bytes());
      EXPECT_EQ(mine.find("ability_item"), std::string::npos) << "the own file would tell answers";
    }
  }
  ASSERT_TRUE(test["has_ended"]);
  std::printf("ability test: %s after %d questions, %.2f, se %.2f, seed %llu\n",
              test["end_reason"].get<std::string>().c_str(), test["answered"].get<int>(),
              test["ability"]["value"].get<double>(), test["ability"]["se"].get<double>(),
              static_cast<unsigned long long>(kSeed));
  EXPECT_THAT(test["end_reason"], testing::AnyOf("precise", "most_items"));
  EXPECT_TRUE((test["ability"]["se"] <= 0.3) == (test["end_reason"] == "precise"));
  EXPECT_NEAR(test["ability"]["value"].get<double>(), kAbility,
              4 * test["ability"]["se"].get<double>());
  EXPECT_LT(test["share"]["low"], test["share"]["high"]);
  const json seen = ingrid->get_json("classes/" + in.id + "/members/" + in.people[0]);
  EXPECT_EQ(seen["ability_tests"][0]["ability"], test["ability"]) << "staff see the same";
  EXPECT_THAT(std::string(maren.get("people/" + in.people[0] + "/export").bytes()),
              HasSubstr("ability_item"));
  json other = torvald.post_json("ability-tests", json::object(), 201);
  other = torvald.post_json("ability-tests/" + other["id"].get<std::string>() + "/stop",
                            json::object());
  EXPECT_EQ(other["end_reason"], "stopped");
  EXPECT_TRUE(other["ability"].is_null()) << "nothing answered, nothing known";
}

TEST_P(Flow, DifficultiesComeFromTheClassesOwnAnswers) {
  const Class in = make_class(*ingrid, "a");
  std::string roll = "login,name\n";
  for (int i = 0; i < 7; ++i) roll += "more" + std::to_string(i) + ",More\n";
  ASSERT_EQ(ingrid->ask("PUT", "classes/" + in.id + "/roster", roll, "text/csv").status, 200);
  // Wheeze is mostly right, stridor mostly wrong; everyone hears them in turn, as when mixed.
  records::Drills drills(room->db());
  int n = 0;
  for (const json& one : json(ingrid->get_json("classes/" + in.id)["members"])) {
    for (int k = 0; k < 6; ++k) {
      const auto add = [&](const char* skill, bool is_right) {
        ASSERT_TRUE(drills.answer(one["person_id"].get<std::string>(),
                                  {"a" + std::to_string(n), "name", skill,
                                   is_right ? skill : "rhonchus", false, room->now_ms + n}));
        ++n;
      };
      add("wheeze", k != 0);
      add("stridor", k == 0);
      add("stridor", true);  // in a row: gives itself away, must not count
    }
  }
  const auto tallies = records::AbilityTests(room->db()).tallies({in.id}).value();
  for (const auto& one : tallies) EXPECT_EQ(one.answers, 6) << one.skill;
  Browser maren(*room, "1");
  maren.join(in.code, in.keys[0]);
  const json test = maren.post_json("ability-tests", json::object(), 201);
  EXPECT_EQ(test["bank"]["measured"], 2);
  EXPECT_EQ(test["bank"]["learners"], 10);
  EXPECT_EQ(test["bank"]["answers"], 120);
  const auto kept =
      records::AbilityTests(room->db()).find(test["id"].get<std::string>(), in.people[0]).value();
  const auto bank = live_again(kept).value().bank;
  double wheeze = NAN, stridor = NAN;
  for (const auto& kind : bank.kinds) {
    if (!kind.is_measured) {
      EXPECT_EQ(kind.difficulty, 0.0);
      EXPECT_EQ(kind.se, 1.0);
    }
    if (kind.mode == "name" && kind.skill == "wheeze") wheeze = kind.difficulty;
    if (kind.mode == "name" && kind.skill == "stridor") stridor = kind.difficulty;
  }
  EXPECT_LT(wheeze, -0.5);
  EXPECT_GT(stridor, 0.5);
}

TEST_P(Flow, TheDrillObeysWhatTheInstructorHasSet) {
  const Class in = make_class(*ingrid, "a");
  const std::string path = "classes/" + in.id + "/drill";
  EXPECT_EQ(ingrid->get_json(path)["modes"].size(), 7u) << "everything, until it is set";
  const json rules{{"modes", {"name", "same"}},
                   {"skills", {"wheeze", "rhonchus", "stridor"}},
                   {"new_per_day", 2},
                   {"sound_only", true}};
  json wrong = rules;
  wrong["skills"] = {"wheeze", "squeak"};
  EXPECT_EQ(ingrid->put(path, wrong).status, 422);
  wrong["skills"] = {"normal", "wheeze"};  // neither is taken for the other
  EXPECT_THAT(std::string(ingrid->put(path, wrong).bytes()), HasSubstr("same"));
  EXPECT_EQ(ingrid->put_json(path, rules)["new_per_day"], 2);
  Browser maren(*room, "1");
  maren.join(in.code, in.keys[0]);
  EXPECT_EQ(maren.put(path, rules).status, 403);
  EXPECT_EQ(maren.get_json("drill/rules")["skills"], json({"rhonchus", "stridor", "wheeze"}));
  EXPECT_EQ(maren.post("drill/next", {{"mode", "phase"}}).status, 409);
  std::set<std::string> met;
  const auto practise = [&](const char* mode, int plays) {
    for (int i = 0; i < plays; ++i) {
      const json item = maren.post_json("drill/next", {{"mode", mode}});
      EXPECT_TRUE(item["sound_only"]);
      if (std::string(mode) == "name") {
        EXPECT_EQ(item["choices"].size(), 3u);
        const auto kept =
            records::Drills(room->db()).item(item["item_id"].get<std::string>(), in.people[0]);
        met.insert(kept.value().skill);
      }
      const json given = maren.post_json(
          "drill/answers",
          {{"item_id", item["item_id"]}, {"answered", item["choices"][0]["id"]}, {"seconds", 2}});
      EXPECT_TRUE(given["truth_events"].empty());
      room->now_ms += 20'000;
    }
  };
  practise("name", 14);
  EXPECT_EQ(met.size(), 2u) << "no third new sound on the first day";
  practise("same", 6);
  room->now_ms += 25LL * 3600 * 1000;
  maren.join(in.code, in.keys[0]);
  practise("name", 14);
  EXPECT_EQ(met, (std::set<std::string>{"rhonchus", "stridor", "wheeze"}));
  ingrid->log_in("ingrid");
  EXPECT_EQ(ingrid->post_json("drill/next", {{"mode", "phase"}})["sound_only"], false)
      << "the instructor is not bound";
}

TEST_P(Flow, APersonIsForgottenOnRequest) {
  const Class in = make_class(*ingrid, "a");
  room->mark(perform(in, 0, 0));
  const std::string path = "people/" + in.people[0];
  EXPECT_THAT(std::string(ingrid->get(path + "/export").bytes()),
              HasSubstr("\"table\":\"action\""));
  EXPECT_EQ(ingrid->remove(path).status, 200);
  EXPECT_EQ(ingrid->get_json("classes/" + in.id)["members"].size(), 2u);
  EXPECT_EQ(ingrid->get(path + "/export").status, 404);
}

}  // namespace
}  // namespace phren::app::server
