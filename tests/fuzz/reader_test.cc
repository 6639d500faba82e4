// Ten thousand damaged sound files through the reader: each is read or refused in words, and
// nothing else happens. Run in the asan preset, address and undefined-behaviour sanitizers watch.
#include <gtest/gtest.h>

#include <chrono>

#include "fuzz/mutate.h"
#include "measurement/measure.h"

namespace phren::fuzz {
namespace {

constexpr std::uint64_t kSeed = 20261125;

TEST(MutatedFilesSlow, TenThousandAreReadOrRefusedInWords) {
  ASSERT_EQ(seed_files().size(), 5u);
  MutatedFiles files(kSeed);
  int read = 0, refused = 0;
  for (int i = 0; i < 10000; ++i) {
    const std::string& file = files.next();
    const auto audio = signal::read_audio_bytes(std::as_bytes(std::span(file)), "mutated.wav");
    if (!audio) {
      ++refused;
      ASSERT_NE(audio.error().message.find("mutated.wav"), std::string::npos)
          << "seed " << kSeed << ", file " << i << ": " << audio.error().message;
      continue;
    }
    ++read;
    ASSERT_FALSE(audio->samples.empty()) << "seed " << kSeed << ", file " << i;
    for (const float v : audio->samples) ASSERT_LE(std::fabs(v), signal::kMaxMagnitude);
  }
  std::printf("%zu different files, %d read, %d refused\n", files.num_given(), read, refused);
  EXPECT_EQ(files.num_given(), 10000u);
  EXPECT_GT(read, 1000);
  EXPECT_GT(refused, 2000);
}

TEST(MutatedFilesSoak, AMinute) {
  MutatedFiles files(kSeed + 2);
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(60);
  int read = 0;
  while (std::chrono::steady_clock::now() < end) {
    read += signal::read_audio_bytes(std::as_bytes(std::span(files.next())), "mutated.wav") ? 1 : 0;
  }
  std::printf("%zu damaged files, %d read\n", files.num_given(), read);
  EXPECT_GT(files.num_given(), 1000u);
}

TEST(MutatedFilesSlow, WhatIsReadIsMeasuredWithFiniteNumbers) {
  auto measurer = measurement::Measurer::load();
  ASSERT_TRUE(measurer) << measurer.error().message;
  MutatedFiles files(kSeed + 1);
  int measured = 0;
  for (int i = 0; i < 1000; ++i) {
    const std::string& file = files.next();
    const auto audio = signal::read_audio_bytes(std::as_bytes(std::span(file)), "mutated.wav");
    if (!audio || audio->duration_s() > 20.0) continue;
    const auto m = measurer->measure(*audio);
    if (!m) continue;
    ++measured;
    for (const auto& event : m->events)
      for (const double p : event.probabilities)
        ASSERT_TRUE(p >= 0.0 && p <= 1.0) << "seed " << kSeed + 1 << ", file " << i;
    ASSERT_TRUE(std::isfinite(m->rms_dbfs)) << "seed " << kSeed + 1 << ", file " << i;
  }
  EXPECT_GT(measured, 40);
}

}  // namespace
}  // namespace phren::fuzz
