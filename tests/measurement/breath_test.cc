#include "measurement/breath.h"

#include <gtest/gtest.h>

#include "base/files.h"
#include "measurement/measure.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

Breathing breathing_of(const std::vector<float>& x) {
  static auto& measurer = *new Measurer(*Measurer::load());  // never destroyed: see measure.h
  return measurer.measure(signal::Audio{kWorkRate_hz, x})->breathing;
}

TEST(Breathing, RateIsWithinFivePercentFrom10To60AMinute) {
  for (const double rate : {10.0, 14.0, 20.0, 30.0, 45.0, 60.0}) {
    SCOPED_TRACE(rate);
    const Breathing b = breathing_of(test::breathing(30.0, rate, 8.0, 17));
    ASSERT_TRUE(b.rate_per_min);
    EXPECT_NEAR(*b.rate_per_min, rate, 0.05 * rate);
    EXPECT_GT(b.confidence, 0.3);
  }
}

TEST(Breathing, TheLouderPhaseIsInspiration) {
  const Breathing b = breathing_of(test::breathing(20.0, 15.0, 8.0, 4));
  ASSERT_GE(b.phases.size(), 8u);
  EXPECT_GT(b.phase_confidence, 0.3);
  for (const BreathPhase& p : b.phases) {
    const double within = std::fmod(0.5 * (p.start_s + p.end_s), 4.0) / 4.0;
    EXPECT_EQ(p.phase, within < 0.38 ? exam::Phase::kInspiration : exam::Phase::kExpiration)
        << p.start_s;
  }
}

TEST(Breathing, ALoudExpiratoryToneDoesNotPassForInspiration) {
  auto x = test::breathing(20.0, 15.0, 8.0, 4);
  for (int i = 0; i < 5; ++i) test::add_tone(x, 420.0, 4.0 * i + 1.7, 1.3, 0.03);
  const Breathing b = breathing_of(x);
  double right = 0.0, all = 0.0;
  for (const BreathPhase& p : b.phases) {
    const bool is_early = std::fmod(0.5 * (p.start_s + p.end_s), 4.0) / 4.0 < 0.38;
    right += is_early == (p.phase == exam::Phase::kInspiration) ? p.end_s - p.start_s : 0.0;
    all += p.end_s - p.start_s;
  }
  EXPECT_GT(right, 0.8 * all);
}

// Inspiration is 0.35 of each of these breaths: 1:1.86, whether the soft expiration is heard or
// not.
TEST(Breathing, InToOutDoesNotHangOnHowMuchOfTheExpirationIsHeard) {
  for (const double softer_db : {6.0, 12.0, 24.0, 40.0}) {
    SCOPED_TRACE(softer_db);
    const Breathing b = breathing_of(test::breathing(30.0, 15.0, softer_db, 4));
    ASSERT_TRUE(b.expiration_to_inspiration);
    EXPECT_NEAR(*b.expiration_to_inspiration, 1.86, 0.5);
  }
}

TEST(Breathing, NoInToOutWhereBreathsAreNotAlike) {
  auto x = test::noise(20.0, 0.01, 9);
  EXPECT_FALSE(breathing_of(x).expiration_to_inspiration);
}

TEST(Breathing, SteadyNoiseHasNoRate) {
  const Breathing b = breathing_of(test::noise(20.0, 0.01, 6));
  EXPECT_LT(b.confidence, 0.15);
}

TEST(Breathing, LevelMovesWithGain) {
  auto x = test::breathing(20.0, 15.0, 8.0, 4);
  const double before = breathing_of(x).level_db;
  for (float& v : x) v *= 0.1f;
  EXPECT_NEAR(breathing_of(x).level_db, before - 20.0, 0.3);
}

// A recording may begin and end in the middle of a breath; what is cut off must not pull the level.
TEST(Breathing, ABreathCutOffByTheRecordingDoesNotMoveTheLevel) {
  const auto whole = test::breathing(24.0, 15.0, 8.0, 4);
  const double all = breathing_of(whole).level_db;
  for (const double from_s : {1.2, 1.4, 2.6}) {
    const auto first = static_cast<std::ptrdiff_t>(from_s * kWorkRate_hz);
    const auto last = first + static_cast<std::ptrdiff_t>(12.0 * kWorkRate_hz);
    const std::vector<float> part(whole.begin() + first, whole.begin() + last);
    EXPECT_NEAR(breathing_of(part).level_db, all, 0.8) << from_s;
  }
}

}  // namespace
}  // namespace phren::measurement
