#include "measurement/whitened.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "measurement/transients.h"
#include "signal/filter.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

std::vector<Crackle> crackles_in(const std::vector<float>& x) {
  static Analyser analyser;
  return WhitenedCrackles().find(analyser.analyse(x));
}

// Noise louder than a crackle's own peak, but above it in frequency: the plain level hides it.
std::vector<float> bright_noise(double seconds, std::uint64_t seed) {
  auto x = test::noise(seconds, 0.02, seed);
  auto high = signal::Biquad(*signal::make_section({.kind = signal::SectionKind::kHighPass,
                                                    .sample_rate_hz = kWorkRate_hz,
                                                    .centre_hz = 500.0,
                                                    .q = 0.7}));
  high.process(x, x);
  high.reset();
  high.process(x, x);
  return x;
}

TEST(WhitenedCrackles, AreFoundUnderBrighterNoise) {
  auto x = bright_noise(6.0, 5);
  for (int i = 0; i < 20; ++i) test::add_crackle(x, 0.5 + 0.25 * i, 1.3, 11.0, 0.03);
  const auto found = crackles_in(x);
  int right = 0;
  for (int i = 0; i < 20; ++i)
    for (const Crackle& c : found)
      if (std::fabs(c.at_s - (0.5 + 0.25 * i + 0.003)) < 0.010) {
        ++right;
        break;
      }
  EXPECT_GE(right, 18);
  EXPECT_LE(found.size(), 26u);
  static Analyser analyser;
  EXPECT_LT(find_crackles(analyser.analyse(x)).size(), 10u) << "the plain level would have done";
}

TEST(WhitenedCrackles, NoiseMakesAboutOneASecondAtMost) {
  for (const double low_pass_hz : {0.0, 200.0, 400.0}) {
    std::size_t found = 0;
    for (std::uint64_t seed = 1; seed <= 10; ++seed) {
      auto x = test::noise(10.0, 0.01, seed);
      if (low_pass_hz > 0.0)
        signal::Biquad(*signal::make_section({.kind = signal::SectionKind::kLowPass,
                                              .sample_rate_hz = kWorkRate_hz,
                                              .centre_hz = low_pass_hz,
                                              .q = 0.7}))
            .process(x, x);
      found += crackles_in(x).size();
    }
    std::printf("[ FIGURE   ] noise, low-pass %.0f Hz: %.2f a second\n", low_pass_hz,
                static_cast<double>(found) / 100.0);
    EXPECT_LE(found, 110u) << "in 100 s of noise, low-pass " << low_pass_hz << " Hz";
  }
}

TEST(WhitenedCrackles, ASteadyToneMakesNoneMore) {
  auto x = test::noise(10.0, 0.001, 2);
  const auto before = crackles_in(x).size();
  test::add_tone(x, 400.0, 0.5, 9.0, 0.05);
  EXPECT_LE(crackles_in(x).size(), before + 3);
}

TEST(WhitenedCrackles, DoNotDependOnGain) {
  auto x = test::noise(4.0, 0.001, 3);
  for (int i = 0; i < 10; ++i) test::add_crackle(x, 0.5 + 0.3 * i, 1.0, 7.0, 0.01);
  auto loud = x;
  for (float& v : loud) v *= 16.0f;
  const auto a = crackles_in(x), b = crackles_in(loud);
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i < a.size(); ++i) EXPECT_NEAR(a[i].at_s, b[i].at_s, 1e-6);
}

TEST(WhitenedCrackles, OfNothingAreNone) {
  EXPECT_TRUE(crackles_in({}).empty());
  EXPECT_TRUE(crackles_in(std::vector<float>(1, 1.0f)).empty());
  EXPECT_TRUE(crackles_in(std::vector<float>(8000, 0.0f)).empty());
}

}  // namespace
}  // namespace phren::measurement
