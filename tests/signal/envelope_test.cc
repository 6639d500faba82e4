#include "signal/envelope.h"

#include <gtest/gtest.h>

namespace phren::signal {
namespace {

TEST(Envelope, OfAConstantIsThatConstant) {
  const std::vector<float> x(100, -0.5f);
  for (const float v : rms_envelope(x, 30, 10)) EXPECT_FLOAT_EQ(v, 0.5f);
}

TEST(Envelope, OfNothingIsNothing) {
  EXPECT_TRUE(rms_envelope({}, 10, 10).empty());
  EXPECT_EQ(rms({}), 0.0);
  EXPECT_EQ(median_of({}), 0.0);
  EXPECT_EQ(dbfs_from_rms(0.0), -200.0);
}

TEST(Percentile, LiesLinearlyBetweenRanks) {
  EXPECT_DOUBLE_EQ(percentile_of({4, 1, 3, 2}, 50.0), 2.5);
  EXPECT_DOUBLE_EQ(percentile_of({4, 1, 3, 2}, 0.0), 1.0);
  EXPECT_DOUBLE_EQ(percentile_of({4, 1, 3, 2}, 100.0), 4.0);
  EXPECT_DOUBLE_EQ(percentile_of({10, 20}, 25.0), 12.5);
}

TEST(Smoothed, KeepsAConstantAndShortensItsWindowAtTheEnds) {
  const std::vector<float> step{0, 0, 0, 3, 3, 3};
  const auto s = smoothed(step, 1);
  EXPECT_FLOAT_EQ(s[0], 0.0f);
  EXPECT_FLOAT_EQ(s[2], 1.0f);
  EXPECT_FLOAT_EQ(s[3], 2.0f);
  EXPECT_FLOAT_EQ(s[5], 3.0f);
}

}  // namespace
}  // namespace phren::signal
