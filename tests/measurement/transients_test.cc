#include "measurement/transients.h"

#include <gtest/gtest.h>

#include "signal/filter.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

std::vector<Crackle> crackles_in(const std::vector<float>& x) {
  static Analyser analyser;
  return find_crackles(analyser.analyse(x));
}

TEST(Crackles, AreCountedAndPlacedInNoise) {
  auto x = test::noise(4.0, 0.001, 2);
  for (int i = 0; i < 20; ++i) test::add_crackle(x, 0.5 + 0.15 * i, 0.7, 5.0, 0.05);
  const auto crackles = crackles_in(x);
  ASSERT_EQ(crackles.size(), 20u);
  for (int i = 0; i < 20; ++i)
    EXPECT_NEAR(crackles[static_cast<std::size_t>(i)].at_s, 0.5 + 0.15 * i, 0.003);
}

TEST(Crackles, AreRareInNoise) {
  std::size_t found = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed)
    found += crackles_in(test::noise(10.0, 0.01, seed)).size();
  EXPECT_LE(found, 20u) << "in 200 s of noise";
}

TEST(Crackles, DoNotDependOnGainAndTurnOverWithSign) {
  auto x = test::noise(1.0, 0.001, 2);
  test::add_crackle(x, 0.5, 1.0, 6.7, 0.05);
  auto loud = x;
  for (float& v : loud) v *= -8.0f;
  const auto a = crackles_in(x), b = crackles_in(loud);
  ASSERT_EQ(a.size(), 1u);
  ASSERT_EQ(b.size(), 1u);
  EXPECT_NEAR(a[0].two_cycle_ms, b[0].two_cycle_ms, 1e-3);
  EXPECT_NE(a[0].is_negative, b[0].is_negative);
}

TEST(Crackles, ASteadyToneAndAStepOfLoudnessAreNone) {
  auto tone = test::noise(2.0, 0.001, 2);
  test::add_tone(tone, 400.0, 0.5, 1.0, 0.05);
  EXPECT_TRUE(crackles_in(tone).empty());
  auto step = test::noise(2.0, 0.001, 2);
  for (std::size_t i = 4000; i < step.size(); ++i) step[i] *= 20.0f;
  EXPECT_LE(crackles_in(step).size(), 1u);
}

TEST(Crackles, OfNothingAreNone) {
  EXPECT_TRUE(crackles_in({}).empty());
  EXPECT_TRUE(crackles_in(std::vector<float>(1, 1.0f)).empty());
  EXPECT_TRUE(crackles_in(std::vector<float>(8000, 0.0f)).empty());
  EXPECT_FALSE(measure_waveform(std::vector<float>(400, 0.0f), 200));
}

}  // namespace
}  // namespace phren::measurement
