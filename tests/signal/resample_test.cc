#include "signal/resample.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <soxr.h>

#include <cmath>
#include <cstdio>
#include <random>

#include "signal/envelope.h"

namespace phren::signal {
namespace {

Audio tone(double rate_hz, double pitch_hz, double seconds) {
  Audio audio{rate_hz, std::vector<float>(static_cast<std::size_t>(rate_hz * seconds))};
  for (std::size_t n = 0; n < audio.samples.size(); ++n)
    audio.samples[n] =
        static_cast<float>(std::sin(2.0 * M_PI * pitch_hz * static_cast<double>(n) / rate_hz));
  return audio;
}

TEST(Resample, KeepsAToneInPlaceAndInTime) {
  for (const double rate_hz : {8000.0, 11025.0, 16000.0, 44100.0, 48000.0}) {
    SCOPED_TRACE(rate_hz);
    const auto out = resample(tone(rate_hz, 400.0, 1.0), 4000.0);
    ASSERT_TRUE(out);
    EXPECT_NEAR(static_cast<double>(out->samples.size()), 4000.0, 2.0);
    const Audio expected = tone(4000.0, 400.0, 1.0);
    for (std::size_t n = 500; n < 3500; n += 7)
      ASSERT_NEAR(out->samples[n], expected.samples[n], 2e-3);
  }
}

TEST(Resample, RemovesWhatTheLowerRateCannotHold) {
  const auto out = resample(tone(44100.0, 3000.0, 1.0), 4000.0);
  EXPECT_LT(rms(std::span(out->samples).subspan(500, 3000)), 1e-4);
}

// libsoxr at its high quality, whose pass band ends at 91 % of the lower band as ours does.
std::vector<float> by_soxr(const Audio& audio, double to_hz) {
  std::vector<float> out(static_cast<std::size_t>(audio.duration_s() * to_hz) + 16);
  const soxr_io_spec_t io = soxr_io_spec(SOXR_FLOAT32_I, SOXR_FLOAT32_I);
  const soxr_quality_spec_t quality = soxr_quality_spec(SOXR_HQ, 0);
  std::size_t used = 0, made = 0;
  const soxr_error_t error =
      soxr_oneshot(audio.sample_rate_hz, to_hz, 1, audio.samples.data(), audio.samples.size(),
                   &used, out.data(), out.size(), &made, &io, &quality, nullptr);
  EXPECT_EQ(error, nullptr);
  out.resize(made);
  return out;
}

// Noise whose band ends well inside both pass bands.
Audio soft_noise(double rate_hz, double seconds, double top_hz) {
  std::mt19937 random(20261130);
  std::normal_distribution<double> normal;
  Audio audio{rate_hz, std::vector<float>(static_cast<std::size_t>(rate_hz * seconds), 0.0f)};
  for (double hz = 40.0; hz < top_hz; hz += 7.0) {
    const double phase = 10.0 * normal(random), height = 0.02 * normal(random);
    for (std::size_t n = 0; n < audio.samples.size(); ++n)
      audio.samples[n] += static_cast<float>(
          height * std::sin(2.0 * M_PI * hz * static_cast<double>(n) / rate_hz + phase));
  }
  return audio;
}

TEST(Resample, GivesWhatLibsoxrGives) {
  for (const double rate_hz : {2000.0, 11025.0, 12000.0, 44099.0, 44100.0, 48000.0}) {
    SCOPED_TRACE(rate_hz);
    const Audio audio = soft_noise(rate_hz, 1.0, std::min(1700.0, 0.42 * rate_hz));
    const auto ours = resample(audio, 4000.0);
    const std::vector<float> theirs = by_soxr(audio, 4000.0);
    ASSERT_NEAR(static_cast<double>(ours->samples.size()), static_cast<double>(theirs.size()), 1.0);
    double most = 0.0;
    for (std::size_t n = 300; n < 3700; ++n)
      most = std::max(most, std::fabs(static_cast<double>(ours->samples[n] - theirs[n])));
    std::printf("%.0f Hz to 4 kHz: at most %.1e of full scale from libsoxr, rms %.2f\n", rate_hz,
                most, rms(ours->samples));
    EXPECT_LT(most, 3e-4);
  }
}

TEST(Resample, OutputDoesNotDependOnBlockSize) {
  const Audio audio = tone(44100.0, 333.0, 0.5);
  const auto whole = resample(audio, 8000.0);
  auto resampler = Resampler::make(44100.0, 8000.0);
  std::vector<float> parts;
  for (std::size_t at = 0; at < audio.samples.size(); at += 777)
    resampler->process(
        std::span(audio.samples).subspan(at, std::min<std::size_t>(777, audio.samples.size() - at)),
        parts);
  resampler->finish(parts);
  EXPECT_EQ(parts, whole->samples);
}

TEST(Resample, SameRateIsTheSameSound) {
  const Audio audio = tone(8000.0, 100.0, 0.1);
  EXPECT_EQ(resample(audio, 8000.0)->samples, audio.samples);
}

TEST(Resample, EmptyStaysEmpty) {
  const auto out = resample(Audio{8000.0, {}}, 4000.0);
  ASSERT_TRUE(out);
  EXPECT_TRUE(out->samples.empty());
}

TEST(Resample, RejectsRatesByNameAndRange) {
  EXPECT_THAT(resample(Audio{10.0, {}}, 4000.0).error().message,
              testing::HasSubstr("from_hz is 10; it must be between 1000 and 384000 Hz"));
  EXPECT_FALSE(resample(Audio{8000.0, {}}, std::nan("")));
}

}  // namespace
}  // namespace phren::signal
