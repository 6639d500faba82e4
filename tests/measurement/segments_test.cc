#include "measurement/segments.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "measurement/decision.h"
#include "measurement/measure.h"

namespace phren::measurement {
namespace {

using Spans = std::vector<std::pair<double, double>>;
constexpr std::size_t kFrames = 200;  // 8 s

struct Logits {  // [output][frame], nothing anywhere
  std::vector<float> values = std::vector<float>(5 * kFrames, -6.0f);
  float& at(std::size_t output, std::size_t frame) { return values[output * kFrames + frame]; }
  // Frames [start, end) as the networks give a breath; `output`: 3 continuous, 4 crackle.
  void add(std::size_t start, std::size_t end, std::size_t output = 0) {
    for (std::size_t t = start; t < end; ++t) at(0, t) = at(output, t) = 4.0f;
    for (const float side : {-1.0f, 0.0f, 1.0f}) {
      const auto near = [&](std::size_t t) {
        return static_cast<std::size_t>(static_cast<float>(t) + side);
      };
      at(1, near(start)) = at(2, near(end - 1)) = 1.0f - 3.0f * std::fabs(side);
    }
  }
};

const SegmentFinder& shipped() {
  static const SegmentFinder finder = Decision::load(model_directory() / "decision.json")->segments;
  return finder;
}

Spans found(const Logits& logits, const Spans& path_s = {}) {
  return shipped().find(logits.values, kFrames, path_s);
}

TEST(Segments, FindsBreathsWhereTheyAre) {
  Logits logits;
  logits.add(20, 50);
  logits.add(70, 105);
  const Spans truth{{0.8, 2.0}, {2.8, 4.2}};
  const Spans got = found(logits, truth);
  ASSERT_EQ(got.size(), truth.size());
  for (std::size_t i = 0; i < truth.size(); ++i) {
    EXPECT_NEAR(got[i].first, truth[i].first, 0.08) << i;
    EXPECT_NEAR(got[i].second, truth[i].second, 0.08) << i;
  }
}

TEST(Segments, FindsNothingInNothing) {
  EXPECT_TRUE(found(Logits{}).empty());
  EXPECT_TRUE(shipped().find({}, 0, {}).empty());
  const std::vector<float> short_one(5 * 3, 4.0f);
  EXPECT_TRUE(shipped().find(short_one, 3, {}).empty());
}

TEST(Segments, NeverOverlapNorReverseWhateverTheLogits) {
  const unsigned seed = 20261201;
  std::mt19937 random(seed);
  std::normal_distribution<float> any(-1.0f, 3.0f);
  for (int round = 0; round < 40; ++round) {
    Logits logits;
    for (float& v : logits.values) v = any(random);
    double from_s = 0.0;
    for (const auto& [start_s, end_s] : found(logits)) {
      EXPECT_GE(start_s, from_s - 1e-9) << "seed " << seed << " round " << round;
      EXPECT_GE(end_s - start_s, 0.16 - 1e-9);
      EXPECT_LE(end_s, 0.04 * kFrames + 1e-9);
      from_s = end_s;
    }
  }
}

// The best sum of all choices, against trying every one.
TEST(Segments, KeepsTheStretchesThatSumHighest) {
  SegmentFinder finder;
  finder.mean.assign(SegmentFinder::kNumFeatures, 0.0);
  finder.deviation.assign(SegmentFinder::kNumFeatures, 1.0);
  // Longer is likelier: then one long stretch beats two halves of it only if it is worth more.
  std::vector<double> row(SegmentFinder::kNumFeatures + 1, 0.0);
  SegmentFinder::Rows layer(SegmentFinder::kNumAnswers, row);
  layer[1][0] = 1.0;  // the logarithm of the length
  layer[1].back() = -2.5;
  finder.judges = {{layer}};
  Logits logits;
  logits.add(20, 40);
  logits.add(40, 60);
  const auto value = [&](double frames) {
    const double odds = std::exp(std::log(frames) - 2.5);
    return (odds + 2.0) / (odds + 3.0) - finder.cost +
           (1.0 - finder.continuous_cost * (odds + 3.0) / (odds + 2.0)) / (odds + 3.0);
  };
  double kept = 0.0;
  for (const auto& [start_s, end_s] : finder.find(logits.values, kFrames, {}))
    kept += value(std::round((end_s - start_s) / 0.04));
  EXPECT_GE(kept, 2.0 * value(20.0) - 1e-9);
  EXPECT_GE(kept, value(40.0) - 1e-9);
}

}  // namespace
}  // namespace phren::measurement
