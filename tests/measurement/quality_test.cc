#include "measurement/quality.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "measurement/measure.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

Quality quality_of(const std::vector<float>& x) {
  static auto& measurer = *new Measurer(*Measurer::load());  // never destroyed: see measure.h
  return measurer.measure(signal::Audio{kWorkRate_hz, x})->quality;
}
bool has(const Quality& q, QualityReason reason) {
  return std::find(q.reasons.begin(), q.reasons.end(), reason) != q.reasons.end();
}

TEST(Quality, SilenceIsCalledSilence) {
  const Quality q = quality_of(std::vector<float>(40000, 0.0f));
  EXPECT_FALSE(q.is_usable);
  EXPECT_TRUE(has(q, QualityReason::kSilence));
}

TEST(Quality, ClippedSoundIsCalledClipped) {
  auto x = test::breathing(10.0, 18.0, 6.0, 3);
  for (float& v : x) v = std::clamp(v * 400.0f, -1.0f, 1.0f);
  EXPECT_TRUE(has(quality_of(x), QualityReason::kClipping));
}

TEST(Quality, OneFullScaleSampleIsNotClipping) {
  auto x = test::breathing(10.0, 18.0, 6.0, 3);
  x[20000] = 1.0f;
  EXPECT_FALSE(has(quality_of(x), QualityReason::kClipping));
}

TEST(Quality, ASecondOfSoundIsTooShort) {
  EXPECT_TRUE(has(quality_of(test::breathing(1.0, 18.0, 6.0, 3)), QualityReason::kTooShort));
}

TEST(Quality, AVoiceIsCalledSpeech) {
  std::vector<float> x = test::noise(10.0, 0.0005, 3);
  for (int syllable = 0; syllable < 30; ++syllable)
    for (int h = 1; h <= 6; ++h)
      test::add_tone(x, (110.0 + 18.0 * (syllable % 6)) * h, 0.3 * syllable, 0.22, 0.05 / h);
  EXPECT_TRUE(has(quality_of(x), QualityReason::kSpeech));
}

TEST(Quality, AVoiceInAThirdOfARecordingIsCalledSpeech) {
  auto x = test::breathing(12.0, 18.0, 6.0, 3);
  for (int syllable = 0; syllable < 12; ++syllable)
    for (int h = 1; h <= 6; ++h)
      test::add_tone(x, (110.0 + 18.0 * (syllable % 6)) * h, 4.0 + 0.3 * syllable, 0.22, 0.05 / h);
  EXPECT_TRUE(has(quality_of(x), QualityReason::kSpeech));
}

TEST(Quality, ARhonchusIsNoVoice) {  // harmonics as many, but its pitch stays
  auto x = test::breathing(12.0, 18.0, 6.0, 3);
  for (int breath = 0; breath < 3; ++breath)
    for (int h = 1; h <= 6; ++h) test::add_tone(x, 140.0 * h, 1.0 + 3.3 * breath, 2.0, 0.05 / h);
  EXPECT_FALSE(has(quality_of(x), QualityReason::kSpeech));
}

// Damped low tones far above the breath.
std::vector<float> thumped(int count) {
  auto x = test::breathing(10.0, 18.0, 6.0, 3);
  for (int thump = 0; thump < count; ++thump)
    for (std::size_t i = 0; i < 800; ++i) {
      const double t = static_cast<double>(i) / kWorkRate_hz;
      x[6000 + 7000 * static_cast<std::size_t>(thump) + i] +=
          static_cast<float>(0.3 * std::exp(-30.0 * t) * std::sin(2.0 * M_PI * 60.0 * t));
    }
  return x;
}

TEST(Quality, ThumpsAreCalledContact) {
  EXPECT_FALSE(has(quality_of(thumped(0)), QualityReason::kContactNoise));
  EXPECT_FALSE(has(quality_of(thumped(2)), QualityReason::kContactNoise));
  const Quality q = quality_of(thumped(4));
  EXPECT_TRUE(has(q, QualityReason::kContactNoise));
  EXPECT_FALSE(q.is_usable);
}

TEST(Quality, DropoutsAreCalledGaps) {
  auto x = test::breathing(10.0, 18.0, 6.0, 3);
  EXPECT_FALSE(has(quality_of(x), QualityReason::kGaps));
  for (float& v : x) v *= 20.0f;
  auto cut = x;
  std::fill(cut.begin() + 9000, cut.begin() + 9200, 0.0f);
  EXPECT_TRUE(has(quality_of(cut), QualityReason::kGaps));
  // A recorder that starts late and stops early has no gap.
  std::fill(x.begin(), x.begin() + 2000, 0.0f);
  std::fill(x.end() - 2000, x.end(), 0.0f);
  EXPECT_FALSE(has(quality_of(x), QualityReason::kGaps));
}

TEST(Quality, ContactAndGapsLeaveTheLabelWhatElseDoesNot) {
  using R = QualityReason;
  EXPECT_TRUE((Quality{false, 0.0, {R::kContactNoise, R::kGaps}}.can_be_labelled()));
  EXPECT_TRUE(Quality{}.can_be_labelled());
  EXPECT_FALSE((Quality{false, 0.0, {R::kContactNoise, R::kSpeech}}.can_be_labelled()));
}

TEST(Quality, SteadyNoiseIsNotUsable) {
  EXPECT_FALSE(quality_of(test::noise(10.0, 0.01, 3)).is_usable);
}

}  // namespace
}  // namespace phren::measurement
