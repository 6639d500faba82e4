// Our portable elementary functions against the platform's libm.
#include "base/det_math.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/random.h"

namespace phren {
namespace {

constexpr double kRelative = 1e-12;

TEST(DetMath, ExpAgreesWithLibm) {
  for (double x = -700.0; x < 700.0; x += 0.137) {
    EXPECT_NEAR(det::exp(x) / std::exp(x), 1.0, kRelative) << x;
  }
}

TEST(DetMath, LogAgreesWithLibmOverTheWholeRange) {
  for (double x = 1e-310; x < 1e300; x *= 1.937) {
    EXPECT_NEAR(det::log(x), std::log(x), 1e-12 * std::max(1.0, std::abs(std::log(x)))) << x;
  }
}

TEST(DetMath, SineAndCosineAgreeWithLibm) {
  RandomStream random(Seed{7}, "sine");
  for (int i = 0; i < 20000; ++i) {
    const double x = random.uniform(-1000.0, 1000.0);
    EXPECT_NEAR(det::sin(x), std::sin(x), 2e-13) << x;
    EXPECT_NEAR(det::cos(x), std::cos(x), 2e-13) << x;
  }
}

TEST(DetMath, PowAndTanhAgreeWithLibm) {
  for (double x = 0.01; x < 50.0; x *= 1.31) {
    for (double y = -4.0; y < 4.0; y += 0.37) {
      EXPECT_NEAR(det::pow(x, y) / std::pow(x, y), 1.0, kRelative) << x << "^" << y;
    }
  }
  for (double x = -25.0; x < 25.0; x += 0.0317) {
    EXPECT_NEAR(det::tanh(x), std::tanh(x), 1e-12) << x;
  }
}

TEST(DetMath, EdgesGiveLimitsNotNan) {
  EXPECT_EQ(det::exp(-1e6), 0.0);
  EXPECT_TRUE(std::isfinite(det::exp(1e6)));
  EXPECT_LT(det::log(0.0), -700.0);
  EXPECT_EQ(det::pow(0.0, 2.0), 0.0);
  EXPECT_EQ(det::sqrt(-1.0), 0.0);
  EXPECT_EQ(det::exp(std::numeric_limits<double>::quiet_NaN()), 0.0);
}

TEST(DetMath, AudioSineIsWithinFourMillionths) {
  for (float t = -3.0f; t < 3.0f; t += 0.00037f) {
    EXPECT_NEAR(det::sin_cycles_f(t), std::sin(2.0 * M_PI * static_cast<double>(t)), 4e-6) << t;
  }
}

TEST(DetMath, DoublingAnAmplitudeIsSixPointZeroTwoDecibels) {
  EXPECT_NEAR(det::db_from_ratio(2.0), 6.0206, 1e-4);
  EXPECT_NEAR(det::ratio_from_db(-20.0), 0.1, 1e-13);
}

}  // namespace
}  // namespace phren
