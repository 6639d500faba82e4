#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "app/run.h"
#include "exam/record.h"

namespace phren::app {
namespace {

std::string write_record(const std::string& name, const exam::Examination& x) {
  const auto file = std::filesystem::temp_directory_path() / ("phren_" + name + ".json");
  std::ofstream(file) << exam::to_json(x);
  return file.string();
}

exam::Examination wheezy() {
  exam::Examination x;
  x.case_id = "test";
  x.age_years = 24;
  x.sex = "female";
  x.setting = "ems_adult";
  x.vital_signs.spo2_percent = 91;
  exam::Finding wheeze;
  wheeze.id = "wheeze";
  wheeze.presence = exam::Presence::kPresent;
  x.findings = {wheeze};
  return x;
}

TEST(WeighCommand, PrintsThreatsFirstThenRankingWithReasons) {
  const Ran ran = run_phren({"weigh", write_record("wheezy", wheezy())});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto threats = ran.out.find("What could kill first");
  const auto ranking = ran.out.find("What it could be");
  EXPECT_LT(threats, ranking);
  EXPECT_LT(ranking, ran.out.find("Where to look next"));
  EXPECT_NE(ran.out.find("wheeze*"), std::string::npos) << "teaching judgement is marked";
  EXPECT_NE(ran.out.substr(0, ranking).find("(rule is our choice)"), std::string::npos);
  EXPECT_NE(ran.out.find("Training aid"), std::string::npos);
}

TEST(WeighCommand, JsonIsTheSameAndSameInputGivesSameBytes) {
  const std::string file = write_record("wheezy2", wheezy());
  const Ran a = run_phren({"weigh", file, "--json"});
  EXPECT_EQ(a.out, run_phren({"weigh", file, "--json"}).out);
  EXPECT_EQ(nlohmann::json::parse(a.out)["ranking"][0]["id"], "asthma");
}

TEST(WeighCommand, FaultsNameFileAndSetting) {
  const Ran gone = run_phren({"weigh", "/nowhere/x.json"});
  EXPECT_EQ(gone.code, kInputFailed);
  EXPECT_NE(gone.err.find("/nowhere/x.json: no such file"), std::string::npos);
  const Ran moon = run_phren({"weigh", write_record("wheezy3", wheezy()), "--setting", "moon"});
  EXPECT_EQ(moon.code, kInputFailed);
  EXPECT_NE(moon.err.find("setting is 'moon'; it must be one of clinic, ems_adult, ems_child"),
            std::string::npos);
}

TEST(EvidenceCommand, CheckPassesAndCountsCoverage) {
  const Ran ran = run_phren({"evidence", "check"});
  EXPECT_EQ(ran.code, kOk) << ran.out;
  EXPECT_NE(ran.out.find("273 rows, 0 errors"), std::string::npos) << ran.out;
}

TEST(EvidenceCommand, ShowsACondition) {
  const Ran ran = run_phren({"evidence", "cardiogenic_oedema"});
  EXPECT_NE(ran.out.find("Wang CS et al."), std::string::npos);
  const Ran none = run_phren({"evidence", "opioid_hypoventilation"});
  EXPECT_NE(none.out.find("teaching judgement"), std::string::npos);
  const Ran wrong = run_phren({"evidence", "astma"});
  EXPECT_EQ(wrong.code, kInputFailed);
  EXPECT_NE(wrong.err.find("Did you mean 'asthma'?"), std::string::npos);
}

TEST(EvidenceCommand, AFaultInTheTableIsListedWithItsLine) {
  namespace fs = std::filesystem;
  const fs::path copy = fs::temp_directory_path() / "phren_faulty_data";
  fs::remove_all(copy);
  fs::copy("data", copy, fs::copy_options::recursive);
  std::ofstream(copy / "evidence/published.csv", std::ios::app)
      << "P999,asthma,weeze,both,0,130,,,,a,b,c,1.4,0.5,,,,,,,S,,VERIFIED\n";
  setenv("PHREN_DATA", copy.c_str(), 1);
  const Ran ran = run_phren({"evidence", "check"});
  unsetenv("PHREN_DATA");
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_NE(ran.out.find("sens is 1.4; it must be a number between"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("Did you mean 'wheeze'?"), std::string::npos) << ran.out;
  fs::remove_all(copy);
}

}  // namespace
}  // namespace phren::app
