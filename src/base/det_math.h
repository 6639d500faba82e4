// Elementary functions that give the same bits on every machine and compiler.
//
// A patient and its sound must be identical natively and in the browser, but each platform's libm
// rounds sin, exp and log its own way. `patient` and `acoustics` use these instead. They use only
// IEEE + - * / and sqrt, which are exact everywhere when contraction is off (-ffp-contract=off).
//
// Shapes:  scalars. Errors: none; arguments outside the stated domain give the nearest limit.
// Accuracy: relative error below 1e-12 for the double versions (tests/base/det_math_test.cc against
//          libm), about 1e-6 for the `f` versions meant for audio.
// Source:  argument reduction plus polynomials; sine by Taylor to x^17 on [-pi/4, pi/4], exp by
//          Taylor on [-ln2/2, ln2/2], log by the atanh series.
#pragma once

#include <cmath>

namespace phren::det {

inline constexpr double kPi = 3.141592653589793238462643;
inline constexpr double kTwoPi = 2.0 * kPi;
inline constexpr double kLn2 = 0.693147180559945309417232;

double exp(double x) noexcept;            // saturates below -708 to 0 and above 709 to exp(709)
double log(double x) noexcept;            // x > 0; log(0) and below give -745
double sin(double x_rad) noexcept;        // |x| < 1e9
double cos(double x_rad) noexcept;        // |x| < 1e9
double pow(double x, double y) noexcept;  // x >= 0; exp(y log x), and 0 for x <= 0
double tanh(double x) noexcept;
inline double sqrt(double x) noexcept {
  return x > 0.0 ? std::sqrt(x) : 0.0;
}  // IEEE: exact
inline double absolute(double x) noexcept {
  return x < 0.0 ? -x : x;
}
inline double clamp(double x, double low, double high) noexcept {
  return x < low ? low : x > high ? high : x;
}
inline double log10(double x) noexcept {
  return log(x) * 0.43429448190325182765;
}
double db_from_ratio(double amplitude_ratio) noexcept;
double ratio_from_db(double level_db) noexcept;

// Sine of a phase in cycles (1.0 = one turn), float, for oscillators; |error| < 4e-6.
inline float sin_cycles_f(float phase_cycles) noexcept {
  // Wrap to [-0.5, 0.5) with a rounding trick free of libm, then to [-0.25, 0.25] by symmetry.
  float t = phase_cycles - static_cast<float>(static_cast<int>(phase_cycles));
  if (t > 0.5f) t -= 1.0f;
  if (t < -0.5f) t += 1.0f;
  if (t > 0.25f) t = 0.5f - t;
  if (t < -0.25f) t = -0.5f - t;
  const float t2 = t * t;
  return t * (6.28318531f +
              t2 * (-41.3417023f + t2 * (81.6052493f + t2 * (-76.7058597f + t2 * 42.0586940f))));
}

}  // namespace phren::det
