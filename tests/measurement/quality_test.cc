#include "measurement/quality.h"

#include <gtest/gtest.h>

#include <algorithm>

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
      test::add_tone(x, (120.0 + 4.0 * (syllable % 5)) * h, 0.3 * syllable, 0.22, 0.05 / h);
  EXPECT_TRUE(has(quality_of(x), QualityReason::kSpeech));
}

TEST(Quality, SteadyNoiseIsNotUsable) {
  EXPECT_FALSE(quality_of(test::noise(10.0, 0.01, 3)).is_usable);
}

}  // namespace
}  // namespace phren::measurement
