#include "measurement/crackle_weighing.h"

#include <gtest/gtest.h>

#include "measurement/sound_kind.h"

namespace phren::measurement {
namespace {

constexpr double kSoft_db = 10.0, kLoud_db = 25.0;

// Ten seconds with so many short events a second, and what the networks say of its breaths.
RecordingMeasurement recording(double events_per_s, double crackle_log_odds,
                               double normal_log_odds) {
  RecordingMeasurement m;
  m.duration_s = 10.0;
  m.floor.assign(4 * kNumSoundBands, 0.0);
  m.evidence[1] = crackle_log_odds;
  m.evidence[2] = normal_log_odds;
  const int num = static_cast<int>(10.0 * events_per_s);
  for (int i = 0; i < num; ++i) {
    Crackle c;
    c.at_s = 0.05 + i / events_per_s;
    c.height_db = kSoft_db;
    m.whitened_crackles.push_back(c);
  }
  // One is loud, as contact always has it.
  if (num > 0) m.whitened_crackles.back().height_db = kLoud_db;
  return m;
}

void silence_pauses(RecordingMeasurement& m, double depth_db) {
  for (std::size_t b = 0; b < kNumSoundBands; ++b) m.floor[b] = -depth_db;
}

TEST(CrackleWeighing, ShortEventsAloneAreNotCrackles) {
  EXPECT_FALSE(weigh_crackles(recording(6.0, -3.0, 3.0)).are_crackles);
  EXPECT_TRUE(weigh_crackles(recording(6.0, 0.0, 0.0)).are_crackles);
}

TEST(CrackleWeighing, MoreEvidenceOfEitherKindNeverSpeaksAgainst) {
  double before = 0.0;
  for (const double said : {-2.0, -1.0, 0.0, 1.0}) {
    const double now = weigh_crackles(recording(5.0, said, -said)).confidence;
    EXPECT_GE(now, before);
    before = now;
  }
  before = 0.0;
  for (const double per_s : {2.0, 4.0, 8.0}) {
    const double now = weigh_crackles(recording(per_s, -1.0, 1.0)).confidence;
    EXPECT_GE(now, before);
    before = now;
  }
}

TEST(CrackleWeighing, AWheezeIsNotCracklesForBeingNoPlainBreath) {
  EXPECT_FALSE(weigh_crackles(recording(4.0, -4.0, -4.0)).are_crackles);
}

TEST(CrackleWeighing, NoiseAloneMakesNoCrackles) {
  auto noise = recording(1.0, -3.0, 3.0);
  EXPECT_FALSE(weigh_crackles(noise).are_crackles);
  silence_pauses(noise, 20.0);
  EXPECT_FALSE(weigh_crackles(noise).are_crackles);
  auto few = recording(1.0, 3.0, -3.0);
  few.duration_s = 0.6;
  few.whitened_crackles.resize(3);
  EXPECT_FALSE(weigh_crackles(few).are_crackles);
}

TEST(CrackleWeighing, WhatLiesInABoutWithALoudOneDoesNotCount) {
  auto m = recording(4.0, 1.0, -1.0);
  const std::size_t alone = weigh_crackles(m).counted.size();
  EXPECT_EQ(alone, m.whitened_crackles.size() - 1);
  m.whitened_crackles[10].height_db = kLoud_db;
  Crackle after = m.whitened_crackles[10];
  after.at_s += 0.03;
  after.height_db = kSoft_db;
  m.whitened_crackles.insert(m.whitened_crackles.begin() + 11, after);
  EXPECT_EQ(weigh_crackles(m).counted.size(), alone - 1);
}

TEST(CrackleWeighing, WherePausesAreSilentEveryEventCounts) {
  auto m = recording(3.0, -3.0, 3.0);
  silence_pauses(m, 10.0);  // as real recordings are
  EXPECT_FALSE(weigh_crackles(m).are_crackles);
  silence_pauses(m, 20.0);
  const auto weighed = weigh_crackles(m);
  EXPECT_TRUE(weighed.are_crackles);
  EXPECT_EQ(weighed.counted.size(), m.whitened_crackles.size());
}

TEST(CrackleWeighing, AFastMeasurementHasNone) {
  RecordingMeasurement m;
  m.duration_s = 10.0;
  EXPECT_FALSE(weigh_crackles(m).are_crackles);
}

}  // namespace
}  // namespace phren::measurement
