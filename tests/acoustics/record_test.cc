// The demo conditions heard through the chestpiece: each sound where, when and on the side it
// should be.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acoustics/bedside.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;
using exam::Sound;

constexpr Seed kSeed{20};

TEST(Record, RejectsNoTime) {
  auto body = sick("healthy", 0.0);
  RecordingRequest request;
  request.seconds = 0.0;
  const auto made = record(body, kSeed, request);
  ASSERT_FALSE(made);
  EXPECT_THAT(made.error().message, ::testing::HasSubstr("seconds is 0"));
}

TEST(Record, HealthyHasBreathSoundInBothPhasesAndNothingAdded) {
  auto body = sick("healthy", 0.0);
  const Recording r = listen(body, kLeftBase);
  EXPECT_EQ(r.samples.size(), 320000u);
  EXPECT_GT(count(r.events, Sound::kNormal), 5u);
  for (const Sound s : {Sound::kWheeze, Sound::kRhonchus, Sound::kStridor, Sound::kFineCrackle,
                        Sound::kCoarseCrackle, Sound::kPleuralFrictionRub, Sound::kBronchial}) {
    EXPECT_EQ(count(r.events, s), 0u) << static_cast<int>(s);
  }
}

TEST(Record, SamePatientAndSeedGiveTheSameBytes) {
  auto a = sick("asthma", 0.6), b = sick("asthma", 0.6);
  EXPECT_EQ(listen(a, kLeftBase, 3.0).samples, listen(b, kLeftBase, 3.0).samples);
}

TEST(Record, OedemaCracklesAtTheBasesInInspiration) {
  auto body = sick("cardiogenic_oedema", 0.6);
  const Recording base = listen(body, kLeftBase);
  std::size_t in = 0, out = 0;
  for (const TruthEvent& e : base.events) {
    if ((e.sound != Sound::kFineCrackle && e.sound != Sound::kCoarseCrackle) || !e.audible)
      continue;
    (e.phase == Phase::kInspiration ? in : out) += 1;
  }
  EXPECT_GT(in, 20u);
  EXPECT_GT(in, out);
}

TEST(Record, RightPneumothoraxIsTenDecibelsBelowTheLeft) {
  auto body = sick("pneumothorax", 0.7, adult(), exam::Side::kRight);
  for (const auto& at : {kRightBase, kRightUpperFront}) {
    exam::TorsoPoint mirror = at;
    mirror.u = -mirror.u;
    const auto right = listen(body, at, 12.0), left = listen(body, mirror, 12.0);
    const double gap = spectrum_of(left.samples, 16000.0, 2048).level_db(100.0, 1000.0) -
                       spectrum_of(right.samples, 16000.0, 2048).level_db(100.0, 1000.0);
    EXPECT_GT(gap, 10.0);
  }
}

TEST(Record, CroupHasStridorAtTheNeckOnTheWayIn) {
  patient::Person child;
  child.age_years = 2.0;
  child.height_cm = 87.0;
  child.weight_kg = 12.5;
  auto body = sick("croup", 0.6, child);
  const Recording r = listen(body, kTrachea);
  EXPECT_GT(seconds_of(r, Sound::kStridor, Phase::kInspiration), 2.0);
  EXPECT_GT(seconds_of(r, Sound::kStridor, Phase::kInspiration),
            2.0 * seconds_of(r, Sound::kStridor, Phase::kExpiration));
}

}  // namespace
}  // namespace phren::acoustics
