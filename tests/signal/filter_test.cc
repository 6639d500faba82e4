#include "signal/filter.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/random.h"
#include "signal/envelope.h"

namespace phren::signal {
namespace {

constexpr double kRate_hz = 8000.0;
constexpr double kTolerance_db = 0.01;  // rounding of the design

TEST(FilterChain, ButterworthIsThreeDecibelsDownAtItsCorner) {
  for (const int order : {2, 4, 6, 8})
    for (const bool is_high : {false, true}) {
      SCOPED_TRACE(order);
      auto f = FilterChain::butterworth({is_high, order, kRate_hz, 500.0});
      ASSERT_TRUE(f);
      EXPECT_NEAR(f->gain_db(500.0, kRate_hz), -3.0103, kTolerance_db);
    }
}

// Closed form of the analogue prototype under the bilinear transform:
// |H|^2 = 1 / (1 + (tan(w/2) / tan(wc/2))^2n).
TEST(FilterChain, FollowsTheButterworthLawAtEveryFrequency) {
  auto f = FilterChain::butterworth({false, 6, kRate_hz, 700.0});
  ASSERT_TRUE(f);
  for (double hz = 50.0; hz < 3900.0; hz += 150.0) {
    const double ratio = std::tan(M_PI * hz / kRate_hz) / std::tan(M_PI * 700.0 / kRate_hz);
    const double expected = -10.0 * std::log10(1.0 + std::pow(ratio, 12.0));
    EXPECT_NEAR(f->gain_db(hz, kRate_hz), expected, 0.02) << hz << " Hz";
  }
}

TEST(FilterChain, MeasuredGainOfATonePassingThroughIsTheStatedOne) {
  auto f = FilterChain::butterworth({true, 4, kRate_hz, 200.0});
  ASSERT_TRUE(f);
  std::vector<float> tone(16000);
  for (std::size_t n = 0; n < tone.size(); ++n)
    tone[n] = static_cast<float>(std::sin(2.0 * M_PI * 150.0 * static_cast<double>(n) / kRate_hz));
  std::vector<float> out(tone.size());
  f->process(tone, out);
  const double got = dbfs_from_rms(rms(std::span(out).subspan(8000))) -
                     dbfs_from_rms(rms(std::span(tone).subspan(8000)));
  EXPECT_NEAR(got, f->gain_db(150.0, kRate_hz), 0.02);
}

TEST(FilterChain, OutputDoesNotDependOnBlockSize) {
  RandomStream random(Seed{5}, "filter_test");
  std::vector<float> x(3000);
  for (float& v : x) v = static_cast<float>(random.normal());
  auto whole = *FilterChain::butterworth({false, 4, kRate_hz, 900.0});
  auto parts = whole;
  std::vector<float> a(x.size()), b(x.size());
  whole.process(x, a);
  for (std::size_t at = 0; at < x.size();) {
    const std::size_t n = std::min<std::size_t>(1 + random.below(200), x.size() - at);
    parts.process(std::span(x).subspan(at, n), std::span(b).subspan(at, n));
    at += n;
  }
  EXPECT_EQ(a, b);
}

TEST(FilterChain, ResetForgetsThePast) {
  auto f = *FilterChain::butterworth({false, 2, kRate_hz, 900.0});
  const double first = f.step(1.0);
  f.step(-3.0);
  f.reset();
  EXPECT_EQ(f.step(1.0), first);
}

TEST(Section, BandPassHasUnitGainAtItsCentre) {
  const auto c = make_section(
      {.kind = SectionKind::kBandPass, .sample_rate_hz = kRate_hz, .centre_hz = 300.0, .q = 5.0});
  ASSERT_TRUE(c);
  EXPECT_NEAR(FilterChain({*c}).gain_db(300.0, kRate_hz), 0.0, kTolerance_db);
}

TEST(Section, PeakAndShelvesReachTheirGain) {
  const auto gain = [](SectionKind kind, double at_hz) {
    const auto c = make_section(
        {.kind = kind, .sample_rate_hz = kRate_hz, .centre_hz = 400.0, .gain_db = 9.0});
    return FilterChain({*c}).gain_db(at_hz, kRate_hz);
  };
  EXPECT_NEAR(gain(SectionKind::kPeak, 400.0), 9.0, kTolerance_db);
  EXPECT_NEAR(gain(SectionKind::kLowShelf, 2.0), 9.0, 0.05);
  EXPECT_NEAR(gain(SectionKind::kLowShelf, 3900.0), 0.0, 0.05);
  EXPECT_NEAR(gain(SectionKind::kHighShelf, 3990.0), 9.0, 0.05);
  EXPECT_NEAR(gain(SectionKind::kHighShelf, 4.0), 0.0, 0.05);
}

TEST(FilterChain, RejectsBadSettingsByNameAndRange) {
  using testing::HasSubstr;
  EXPECT_THAT(FilterChain::butterworth({true, 4, kRate_hz, 4000.0}).error().message,
              HasSubstr("centre_hz is 4000; it must be above 0 and below half"));
  EXPECT_THAT(FilterChain::butterworth({true, 3, kRate_hz, 100.0}).error().message,
              HasSubstr("order is 3; it must be 2, 4, 6 or 8"));
  EXPECT_FALSE(FilterChain::butterworth({true, 4, kRate_hz, std::nan("")}));
  EXPECT_THAT(make_section({.q = 0.0}).error().message, HasSubstr("q is 0"));
}

}  // namespace
}  // namespace phren::signal
