#include "measurement/sound_kind.h"

#include <gtest/gtest.h>

#include "sounds.h"

namespace phren::measurement {
namespace {

FloorStatistics floor_of(const std::vector<float>& samples) {
  Analyser analyser;
  const Analysis& a = analyser.analyse(samples);
  SoundMeter meter;
  meter.add(a, 0, a.num_frames);
  return meter.floor_statistics();
}

TEST(FloorStatistics, AreInOrderAndOfTheSoundNotOfItsLevel) {
  std::vector<float> x = test::noise(8.0, 0.01, 3);
  test::add_tone(x, 400.0, 2.0, 1.0, 0.2);
  const FloorStatistics plain = floor_of(x);
  for (std::size_t b = 0; b < kNumSoundBands; ++b) {
    EXPECT_LT(plain[b], plain[kNumSoundBands + b]);
    EXPECT_LT(plain[kNumSoundBands + b], plain[2 * kNumSoundBands + b]);
  }
  for (float& v : x) v *= 0.25f;
  const FloorStatistics softer = floor_of(x);
  for (std::size_t i = 0; i < plain.size(); ++i) EXPECT_NEAR(softer[i], plain[i], 0.2) << i;
}

TEST(FloorStatistics, SeeATonePartOfTheTimeInTheTopOnly) {
  std::vector<float> x = test::noise(10.0, 0.01, 5);
  const FloorStatistics before = floor_of(x);
  test::add_tone(x, 400.0, 2.0, 1.5, 0.2);
  const FloorStatistics after = floor_of(x);
  constexpr std::size_t kBand = 9;  // 375 to 469 Hz
  EXPECT_NEAR(after[kBand], before[kBand], 0.5);
  EXPECT_GT(after[2 * kNumSoundBands + kBand], before[2 * kNumSoundBands + kBand] + 10.0);
}

TEST(ClipOn, IsLinearInTheStatistics) {
  ClipOnModel model;
  model.deviation.fill(1.0);
  model.weights[0] = 1.0;
  FloorStatistics x{};
  EXPECT_NEAR(model.probability(x), 0.5, 1e-12);
  x[0] = 2.0;
  EXPECT_NEAR(model.probability(x), 1.0 / (1.0 + std::exp(-2.0)), 1e-12);
}

}  // namespace
}  // namespace phren::measurement
