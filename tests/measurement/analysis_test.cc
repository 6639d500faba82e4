#include "measurement/analysis.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "measurement/fast_math.h"
#include "measurement/lanes.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

TEST(FastMath, AgreesWithTheLibraryToOnePartInAMillion) {
  for (float x = 1e-30f; x < 1e30f; x *= 1.37f)
    EXPECT_NEAR(fast_log(x), std::log(x), 1e-6 * std::max(1.0f, std::fabs(std::log(x))));
  for (float x = -80.0f; x < 80.0f; x += 0.317f)
    EXPECT_NEAR(fast_exp(x) / std::exp(x), 1.0, 2e-6) << x;
}

TEST(Analysis, NothingHasNoFrames) {
  Analyser analyser;
  EXPECT_EQ(analyser.analyse({}).num_frames, 0u);
  const std::vector<float> one(1, 0.5f);
  EXPECT_EQ(analyser.analyse(one).num_frames, 1u);
}

TEST(Analysis, SilenceIsFiniteEverywhere) {
  Analyser analyser;
  const std::vector<float> silence(8000, 0.0f);
  const Analysis& a = analyser.analyse(silence);
  for (const float v : a.tone_height_db) ASSERT_EQ(v, 0.0f);
  for (const float v : a.broadband_db) ASSERT_TRUE(std::isfinite(v));
  for (const float v : a.energy_db) ASSERT_TRUE(std::isfinite(v));
}

TEST(Analysis, ForgetsThePieceBefore) {
  Analyser analyser;
  const auto x = test::noise(1.0, 0.1, 3), other = test::noise(2.0, 0.5, 4);
  const auto band = [&] {
    const std::span<const float> now = analyser.analyse(x).crackle_band;
    return std::vector<float>(now.begin(), now.end());
  };
  const auto first = band();
  analyser.analyse(other);
  EXPECT_EQ(band(), first);
}

TEST(Analysis, LevelsMoveWithGainDecibelForDecibel) {
  Analyser analyser;
  const auto soft = test::noise(1.0, 0.001, 9);
  auto loud = soft;
  for (float& v : loud) v *= 10.0f;
  const auto before = analyser.analyse(soft).broadband_db;
  const auto& after = analyser.analyse(loud).broadband_db;
  for (std::size_t t = 0; t < before.size(); ++t) EXPECT_NEAR(after[t] - before[t], 20.0, 0.01);
}

// The four quarters that are filtered side by side join without a seam.
TEST(Analysis, HighPassIsThatOfOnePassFromFrontToBack) {
  const auto x = test::noise(3.0003, 0.1, 21);
  signal::Biquad filter(*signal::make_section({.kind = signal::SectionKind::kHighPass,
                                               .sample_rate_hz = kWorkRate_hz,
                                               .centre_hz = kCrackleHighPass_hz,
                                               .q = std::sqrt(0.5)}));
  Analyser analyser;
  const Analysis& a = analyser.analyse(x);
  for (std::size_t i = 0; i < x.size(); ++i)
    ASSERT_NEAR(a.high_passed[i], filter.step(static_cast<double>(x[i])), 1e-7) << i;
}

TEST(SortColumns, SortsEachColumnByItself) {
  const auto x = test::noise(0.25, 1.0, 8);
  Sixteen rows[22] = {};
  std::array<std::array<float, 22>, 16> columns{};
  for (std::size_t n = 0; n < 22; ++n)
    for (std::size_t c = 0; c < 16; ++c) columns[c][n] = rows[n][c] = x[n * 16 + c];
  sort_columns(rows);
  for (std::size_t c = 0; c < 16; ++c) {
    std::sort(columns[c].begin(), columns[c].end());
    for (std::size_t n = 0; n < 22; ++n) ASSERT_EQ(rows[n][c], columns[c][n]);
  }
}

}  // namespace
}  // namespace phren::measurement
