#include "measurement/decision.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>

#include "base/files.h"
#include "measurement/evidence.h"
#include "measurement/measure.h"

namespace phren::measurement {
namespace {

double sum_of(const std::vector<double>& p) {
  return std::accumulate(p.begin(), p.end(), 0.0);
}

TEST(LinearJudge, StandardisesAndClamps) {
  const LinearJudge judge{{1.0, 0.0}, {2.0, 1.0}, {{3.0, -1.0, 0.5}}};
  EXPECT_NEAR(judge.scores(std::vector{3.0, 2.0})[0], 3.0 - 2.0 + 0.5, 1e-12);
  EXPECT_NEAR(judge.scores(std::vector{1e9, 0.0})[0], 3.0 * 4.0 + 0.5, 1e-12);
}

TEST(Calibration, KeepsWhatIsRightAndFlattensWhatIsTooSure) {
  const std::vector<double> p{0.7, 0.2, 0.1};
  const auto same = Calibration{1.0, {0.0, 0.0, 0.0}, 0.0}.apply(p);
  for (std::size_t c = 0; c < p.size(); ++c) EXPECT_NEAR(same[c], p[c], 1e-12);
  const auto flat = Calibration{0.5, {0.0, 0.0, 0.0}, 0.0}.apply(p);
  EXPECT_NEAR(sum_of(flat), 1.0, 1e-12);
  EXPECT_NEAR(flat[0] / flat[1], std::sqrt(0.7 / 0.2), 1e-9);
  EXPECT_GT(Calibration({1.0, {0.0, 2.0, 0.0}, 0.0}).apply(p)[1], 0.6);
}

TEST(KindWeighing, AsksForTonesAndCracklesEachAtItsBalance) {
  KindWeighing w;
  w.record_judge = {{0.0}, {1.0}, {{1.0, 0.0}, {-1.0, 0.0}}};
  const auto p = w.record_by_judge(std::vector{2.0}, 0.1);
  EXPECT_NEAR(sum_of(p), 1.0, 1e-12);
  EXPECT_NEAR(p[4], 0.1, 1e-12);
  EXPECT_EQ(std::max_element(p.begin(), p.end()) - p.begin(), 1);  // tones, no crackles
}

TEST(KindWeighing, TheNetworkDividesWhatTheJudgeGivesASound) {
  KindWeighing w;
  w.event_judge = {{0.0}, {1.0}, {{0.0, 0.0}, {0.0, 0.0}, {0.0, 3.0}, {0.0, 0.0}}};
  const std::vector<double> by_network{0.1, 0.6, 0.2, 0.1, 0.0, 0.0, 0.0};
  const auto p = w.event_by_judge(std::vector{1.0}, by_network);
  EXPECT_NEAR(sum_of(p), 1.0, 1e-12);
  EXPECT_NEAR(p[1] / p[2], 3.0, 1e-9);  // rhonchi three times wheezes
  EXPECT_GT(p[1] + p[2] + p[3], 0.8);
}

class DecisionFile : public testing::Test {
 protected:
  static nlohmann::json shipped() {
    return nlohmann::json::parse(*read_file(model_directory() / "decision.json"));
  }
  static std::string refusal(const nlohmann::json& json) {
    const auto got = Decision::read(json.dump(), "x.json");
    return got ? "" : got.error().message;
  }
};

TEST_F(DecisionFile, HasJudgesForAdultsOnly) {
  const auto got = Decision::read(shipped().dump(), "x.json");
  ASSERT_TRUE(got) << got.error().message;
  const auto& kinds = got->kinds;
  EXPECT_FALSE(kinds[0].record_judge.is_there() || kinds[0].event_judge.is_there());
  EXPECT_TRUE(kinds[1].record_judge.is_there());
  EXPECT_TRUE(kinds[2].record_judge.is_there() && kinds[2].event_judge.is_there());
  for (const KindWeighing& kind : kinds) {
    EXPECT_GT(kind.record_chance.least_in_set, 0.0);
    EXPECT_LT(kind.record_chance.least_in_set, 1.0 / 3.0);
  }
}

TEST_F(DecisionFile, NamesWhatIsMissing) {
  auto json = shipped();
  json["kinds"]["stethoscope"]["record_judge"]["mean"].erase(0);
  EXPECT_NE(refusal(json).find("kinds.stethoscope.record_judge.mean must be 17 numbers"),
            std::string::npos)
      << refusal(json);
  json = shipped();
  json["kinds"]["other"]["record_chance"].erase("scale");
  EXPECT_NE(refusal(json).find("kinds.other.record_chance.scale must be a number"),
            std::string::npos);
  json = shipped();
  json["kinds"]["other"]["event_judge"] = 5;
  EXPECT_NE(refusal(json).find("kinds.other.event_judge.weights must have 4 rows"),
            std::string::npos);
  json = shipped();
  json.erase("clip_on");
  EXPECT_NE(refusal(json).find("clip_on.mean must be 64 numbers"), std::string::npos);
  json = shipped();
  json["segments"]["judges"][2][1][7].erase(0);
  EXPECT_NE(refusal(json).find("segments.judges must be 25 numbers"), std::string::npos);
  json = shipped();
  json["segments"]["judges"][0].erase(2);
  EXPECT_NE(refusal(json).find("segments.judges must end in 4 rows"), std::string::npos);
  json = shipped();
  json["segments"].erase("continuous_cost");
  EXPECT_NE(refusal(json).find("segments.continuous_cost must be a number"), std::string::npos);
}

}  // namespace
}  // namespace phren::measurement
