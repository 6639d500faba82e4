#include "measurement/measure.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

#include "measurement/json.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

using testing::HasSubstr;

Measurer& measurer() {
  static auto* one = new Measurer(*Measurer::load());  // never destroyed: see measure.h
  return *one;
}
signal::Audio audio(std::vector<float> x) {
  return {kWorkRate_hz, std::move(x)};
}

TEST(Measure, EveryEventsProbabilitiesSumToOne) {
  const auto m = measurer().measure(audio(test::breathing(15.0, 20.0, 6.0, 3)));
  ASSERT_TRUE(m);
  ASSERT_FALSE(m->events.empty());
  for (const Event& e : m->events)
    EXPECT_NEAR(std::accumulate(e.probabilities.begin(), e.probabilities.end(), 0.0), 1.0, 1e-4);
}

TEST(Measure, GivenEventsComeBackInTheirOrder) {
  MeasureOptions options;
  options.given_s = {{5.0, 6.0}, {1.0, 2.5}, {13.9, 14.9}};
  const auto m = measurer().measure(audio(test::breathing(15.0, 20.0, 6.0, 3)), options);
  ASSERT_TRUE(m);
  ASSERT_EQ(m->given_events.size(), 3u);
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_NEAR(m->given_events[i].start_s, options.given_s[i].first, 1e-9);
    EXPECT_NEAR(m->given_events[i].end_s, options.given_s[i].second, 1e-9);
    EXPECT_GT(m->given_events[i].features[0], 0.0f);
  }
}

TEST(Measure, TwiceGivesTheSameBytes) {
  const auto x = audio(test::breathing(12.0, 20.0, 6.0, 3));
  EXPECT_EQ(to_json(*measurer().measure(x), "x"), to_json(*measurer().measure(x), "x"));
}

TEST(Measure, LongRecordingsKeepEveryGivenEventAndCrackleOnce) {
  auto x = test::noise(100.0, 0.001, 3);
  std::size_t placed = 0;
  for (double t = 0.5; t < 99.5; t += 0.37, ++placed) test::add_crackle(x, t, 0.8, 5.5, 0.05);
  MeasureOptions options;
  for (double t = 0.0; t < 98.0; t += 1.3) options.given_s.emplace_back(t, t + 1.0);
  const auto m = measurer().measure(audio(x), options);
  ASSERT_TRUE(m);
  EXPECT_NEAR(static_cast<double>(m->crackles.size()), static_cast<double>(placed),
              0.02 * static_cast<double>(placed));
  for (std::size_t i = 0; i + 1 < m->crackles.size(); ++i)
    EXPECT_GT(m->crackles[i + 1].at_s - m->crackles[i].at_s, 0.005);
  for (std::size_t i = 0; i < options.given_s.size(); ++i) {
    EXPECT_NEAR(m->given_events[i].start_s, options.given_s[i].first, 1e-9);
    EXPECT_GT(m->given_events[i].features[0], 0.5f) << "event " << i << " was measured";
  }
}

TEST(Measure, RefusesScrapsAndEventsOutsideByNameAndRange) {
  EXPECT_THAT(measurer().measure(audio({0.5f})).error().message,
              HasSubstr("duration is 0.250000 ms; it must be at least 100 ms"));
  MeasureOptions options;
  options.given_s = {{20.0, 21.0}};
  EXPECT_THAT(
      measurer().measure(audio(test::noise(2.0, 0.01, 1)), options).error().message,
      HasSubstr("event start_ms is 20000; it must be within the recording, which lasts 2000"));
  options.given_s = {{1.0, 0.5}};
  EXPECT_THAT(measurer().measure(audio(test::noise(2.0, 0.01, 1)), options).error().message,
              HasSubstr("event end_ms is 500"));
}

TEST(Measure, SaysWhichModelFileIsMissing) {
  EXPECT_THAT(Measurer::load("/nonexistent").error().message,
              HasSubstr("/nonexistent/trees_events.bin"));
}

}  // namespace
}  // namespace phren::measurement
