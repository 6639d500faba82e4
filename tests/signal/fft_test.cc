#include "signal/fft.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/random.h"
#include "signal/stft.h"

namespace phren::signal {
namespace {

std::vector<float> noise(std::size_t size, std::uint64_t seed) {
  RandomStream random(Seed{seed}, "fft_test");
  std::vector<float> out(size);
  for (float& x : out) x = static_cast<float>(random.normal());
  return out;
}

TEST(RealFft, AgreesWithTheDefiningSumAtEverySize) {
  for (const std::size_t size : {8u, 16u, 32u, 64u, 256u, 512u, 1024u}) {
    SCOPED_TRACE(size);
    const auto x = noise(size, 7);
    const auto got = spectrum_of(x);
    for (std::size_t k = 0; k <= size / 2; ++k) {
      std::complex<double> sum = 0.0;
      for (std::size_t n = 0; n < size; ++n)
        sum += static_cast<double>(x[n]) *
               std::polar(1.0, -2.0 * M_PI * static_cast<double>((k * n) % size) /
                                   static_cast<double>(size));
      EXPECT_NEAR(std::abs(sum - std::complex<double>(got[k])), 0.0,
                  4e-6 * std::sqrt(static_cast<double>(size)) * 3.0);
    }
  }
}

TEST(RealFft, LanesDoNotTouchEachOther) {
  constexpr std::size_t kSize = 128, kLanes = 16;
  RealFft<kLanes> many(kSize);
  std::vector<float> power(many.num_bins() * kLanes);
  for (std::size_t l = 0; l < kLanes; ++l) {
    const auto x = noise(kSize, l + 1);
    for (std::size_t m = 0; m < kSize / 2; ++m) {
      many.even(m)[l] = x[2 * m];
      many.odd(m)[l] = x[2 * m + 1];
    }
  }
  many.power(power.data(), many.num_bins());
  for (std::size_t l = 0; l < kLanes; ++l) {
    const auto alone = spectrum_of(noise(kSize, l + 1));
    for (std::size_t k = 0; k < alone.size(); ++k)
      EXPECT_NEAR(power[k * kLanes + l], std::norm(alone[k]), 1e-3);
  }
}

TEST(RealFft, KeepsEnergy) {  // Parseval
  const auto x = noise(512, 3);
  const auto s = spectrum_of(x);
  double time = 0.0, frequency = std::norm(s.front()) + std::norm(s.back());
  for (const float v : x) time += static_cast<double>(v) * static_cast<double>(v);
  for (std::size_t k = 1; k + 1 < s.size(); ++k) frequency += 2.0 * std::norm(s[k]);
  EXPECT_NEAR(frequency / 512.0 / time, 1.0, 1e-5);
}

TEST(Stft, WhiteNoiseOfUnitVarianceGivesOneInEveryBin) {
  auto stft = Stft::make({.fft_size = 256, .window_samples = 256, .hop_samples = 64});
  ASSERT_TRUE(stft);
  const auto x = noise(400000, 11);
  std::vector<float> power(stft->num_frames(x.size()) * stft->num_bins());
  stft->process(x, power);
  const std::size_t frames = stft->num_frames(x.size());
  for (std::size_t k = 4; k < 125; k += 20) {
    double sum = 0.0;
    for (std::size_t f = 0; f < frames; ++f) sum += static_cast<double>(power[f * 129 + k]);
    EXPECT_NEAR(sum / static_cast<double>(frames), 1.0, 0.06) << "bin " << k;
  }
}

TEST(Stft, CountsFramesThatFitWhole) {
  auto stft = Stft::make({.fft_size = 64, .window_samples = 40, .hop_samples = 10});
  ASSERT_TRUE(stft);
  EXPECT_EQ(stft->num_frames(39), 0u);
  EXPECT_EQ(stft->num_frames(40), 1u);
  EXPECT_EQ(stft->num_frames(59), 2u);
  EXPECT_EQ(stft->num_frames(60), 3u);
}

TEST(Stft, KeptBinsAreTheLowestOfAll) {
  const auto x = noise(3000, 5);
  auto all = Stft::make({.fft_size = 256, .window_samples = 192, .hop_samples = 80});
  std::vector<float> whole(all->num_frames(x.size()) * 129);
  all->process(x, whole);
  for (const std::size_t kept : {1u, 2u, 64u, 65u, 88u, 128u, 129u}) {
    SCOPED_TRACE(kept);
    auto some =
        Stft::make({.fft_size = 256, .window_samples = 192, .hop_samples = 80, .kept_bins = kept});
    ASSERT_TRUE(some);
    ASSERT_EQ(some->num_bins(), kept);
    std::vector<float> part(some->num_frames(x.size()) * kept);
    some->process(x, part);
    for (std::size_t i = 0; i < part.size(); ++i)
      ASSERT_EQ(part[i], whole[i / kept * 129 + i % kept]) << "frame " << i / kept;
  }
}

TEST(Stft, RejectsBadSizesByName) {
  EXPECT_THAT(Stft::make({.fft_size = 100}).error().message, testing::HasSubstr("fft_size is 100"));
  EXPECT_THAT(Stft::make({.fft_size = 64, .window_samples = 65}).error().message,
              testing::HasSubstr("window_samples is 65"));
  EXPECT_FALSE(Stft::make({.fft_size = 64, .window_samples = 64, .hop_samples = 0}));
  EXPECT_THAT(Stft::make({.fft_size = 64, .window_samples = 64, .kept_bins = 34}).error().message,
              testing::HasSubstr("kept_bins is 34"));
}

}  // namespace
}  // namespace phren::signal
