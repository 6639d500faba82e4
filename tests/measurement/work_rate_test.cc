#include "measurement/work_rate.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "measurement/types.h"
#include "signal/envelope.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

std::vector<float> brought_down(const std::vector<float>& x, double from_hz, std::size_t block) {
  auto rate = WorkRate::make(from_hz);
  std::vector<float> out;
  for (std::size_t at = 0; at < x.size(); at += block)
    rate->process(std::span(x).subspan(at, std::min(block, x.size() - at)), out);
  rate->finish(out);
  return out;
}

std::vector<float> tone(double rate_hz, double hz, std::size_t count) {
  std::vector<float> x(count, 0.0f);
  test::add_tone(x, hz, 0.0, static_cast<double>(count) / rate_hz, 1.0, rate_hz);
  return x;
}

TEST(WorkRate, KeepsTonesUpTo1300HzInPlaceAndInTime) {
  for (const double rate_hz : {4000.0, 8000.0, 16000.0, 32000.0, 44100.0, 48000.0})
    for (const double hz : {60.0, 400.0, 1300.0}) {
      SCOPED_TRACE(testing::Message() << rate_hz << " Hz, tone " << hz);
      const auto count = static_cast<std::size_t>(rate_hz);
      const auto out = brought_down(tone(rate_hz, hz, count), rate_hz, 1000);
      ASSERT_NEAR(static_cast<double>(out.size()), 4000.0, 2.0);
      const auto expected = tone(kWorkRate_hz, hz, 4000);
      for (std::size_t n = 200; n < 3800; ++n) ASSERT_NEAR(out[n], expected[n], 2e-3);
    }
}

TEST(WorkRate, RemovesWhatWouldAliasIntoTheBand) {
  for (const double hz : {2750.0, 3000.0, 3900.0}) {
    const auto out = brought_down(tone(8000.0, hz, 8000), 8000.0, 8000);
    EXPECT_LT(signal::dbfs_from_rms(signal::rms(std::span(out).subspan(200, 3600))), -70.0) << hz;
  }
}

TEST(WorkRate, OutputDoesNotDependOnBlockSize) {
  for (const double rate_hz : {8000.0, 16000.0, 44100.0}) {
    const auto x = test::noise(0.5, 0.3, 21, rate_hz);
    EXPECT_EQ(brought_down(x, rate_hz, 1), brought_down(x, rate_hz, x.size())) << rate_hz;
    EXPECT_EQ(brought_down(x, rate_hz, 777), brought_down(x, rate_hz, x.size())) << rate_hz;
  }
}

TEST(WorkRate, CountsSamplesOfOddAndTinyInputs) {
  for (const std::size_t count : {0u, 1u, 2u, 3u, 7u, 101u})
    EXPECT_EQ(brought_down(std::vector<float>(count, 1.0f), 8000.0, 5).size(), (count + 1) / 2);
}

TEST(WorkRate, RejectsAbsurdRates) {
  EXPECT_THAT(WorkRate::make(5.0).error().message, testing::HasSubstr("sample_rate_hz is 5"));
}

}  // namespace
}  // namespace phren::measurement
