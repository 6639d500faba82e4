#include "base/det_math.h"

#include <bit>
#include <cstdint>
#include <initializer_list>

namespace phren::det {
namespace {

// 2^k by building the exponent field; k in [-1022, 1023].
double two_to(int k) noexcept {
  return std::bit_cast<double>(static_cast<std::uint64_t>(k + 1023) << 52);
}

double sin_poly(double x) noexcept {
  const double x2 = x * x;
  double p = 1.0 / 355687428096000.0;
  p = p * x2 - 1.0 / 1307674368000.0;
  p = p * x2 + 1.0 / 6227020800.0;
  p = p * x2 - 1.0 / 39916800.0;
  p = p * x2 + 1.0 / 362880.0;
  p = p * x2 - 1.0 / 5040.0;
  p = p * x2 + 1.0 / 120.0;
  p = p * x2 - 1.0 / 6.0;
  return x + x * x2 * p;
}

double cos_poly(double x) noexcept {
  const double x2 = x * x;
  double p = 1.0 / 20922789888000.0;
  p = p * x2 - 1.0 / 87178291200.0;
  p = p * x2 + 1.0 / 479001600.0;
  p = p * x2 - 1.0 / 3628800.0;
  p = p * x2 + 1.0 / 40320.0;
  p = p * x2 - 1.0 / 720.0;
  p = p * x2 + 1.0 / 24.0;
  p = p * x2 - 0.5;
  return 1.0 + x2 * p;
}

// Sine of x + quadrant * pi/2.
double sin_of(double x, int quadrant_shift) noexcept {
  constexpr double kHalfPiHi = 1.57079632673412561417e+00;  // first 33 bits of pi/2
  constexpr double kHalfPiLo = 6.07710050650619224932e-11;  // the rest
  const double turns = x * (1.0 / (kPi / 2.0));
  const auto n = static_cast<std::int64_t>(turns + (turns >= 0.0 ? 0.5 : -0.5));
  const double nd = static_cast<double>(n);
  const double r = (x - nd * kHalfPiHi) - nd * kHalfPiLo;
  switch ((n + quadrant_shift) & 3) {
    case 0:
      return sin_poly(r);
    case 1:
      return cos_poly(r);
    case 2:
      return -sin_poly(r);
    default:
      return -cos_poly(r);
  }
}

}  // namespace

double exp(double x) noexcept {
  if (!(x > -708.0)) return 0.0;
  if (x > 709.0) x = 709.0;
  constexpr double kLn2Hi = 6.93147180369123816490e-01;
  constexpr double kLn2Lo = 1.90821492927058770002e-10;
  const double kd = x * (1.0 / kLn2);
  const int k = static_cast<int>(kd + (kd >= 0.0 ? 0.5 : -0.5));
  const double r = (x - k * kLn2Hi) - k * kLn2Lo;
  double p = 1.0 / 6227020800.0;
  for (const double c :
       {1.0 / 479001600.0, 1.0 / 39916800.0, 1.0 / 3628800.0, 1.0 / 362880.0, 1.0 / 40320.0,
        1.0 / 5040.0, 1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0}) {
    p = p * r + c;
  }
  return p * two_to(k);
}

double log(double x) noexcept {
  if (!(x > 0.0)) return -745.0;
  int shift = 0;
  if (x < 2.2250738585072014e-308) {  // subnormal: bring it into the normal range first
    x *= 18014398509481984.0;         // 2^54
    shift = -54;
  }
  const auto bits = std::bit_cast<std::uint64_t>(x);
  int k = static_cast<int>((bits >> 52) & 0x7ff) - 1023;
  double m = std::bit_cast<double>((bits & 0x000fffffffffffffULL) | 0x3ff0000000000000ULL);
  if (m > 1.4142135623730951) {
    m *= 0.5;
    ++k;
  }
  const double s = (m - 1.0) / (m + 1.0);
  const double s2 = s * s;
  double p = 1.0 / 23.0;
  for (const double c : {1.0 / 21.0, 1.0 / 19.0, 1.0 / 17.0, 1.0 / 15.0, 1.0 / 13.0, 1.0 / 11.0,
                         1.0 / 9.0, 1.0 / 7.0, 1.0 / 5.0, 1.0 / 3.0}) {
    p = p * s2 + c;
  }
  return 2.0 * (s + s * s2 * p) + (k + shift) * kLn2;
}

double sin(double x_rad) noexcept {
  return sin_of(x_rad, 0);
}
double cos(double x_rad) noexcept {
  return sin_of(x_rad, 1);
}

double pow(double x, double y) noexcept {
  if (y == 0.0) return 1.0;
  return x > 0.0 ? exp(y * log(x)) : 0.0;
}

double tanh(double x) noexcept {
  if (x > 20.0) return 1.0;
  if (x < -20.0) return -1.0;
  if (x < 0.05 && x > -0.05) {  // series: the quotient below would cancel
    const double x2 = x * x;
    return x * (1.0 +
                x2 * (-1.0 / 3.0 +
                      x2 * (2.0 / 15.0 +
                            x2 * (-17.0 / 315.0 + x2 * (62.0 / 2835.0 - x2 * 1382.0 / 155925.0)))));
  }
  const double e = exp(2.0 * x);
  return (e - 1.0) / (e + 1.0);
}

double db_from_ratio(double amplitude_ratio) noexcept {
  return 20.0 * log10(amplitude_ratio);
}
double ratio_from_db(double level_db) noexcept {
  return exp(level_db * (2.302585092994045684 / 20.0));
}

}  // namespace phren::det
