// Angles in the plane, without libm (base/det_math.h says why).
#pragma once

#include <algorithm>

#include "base/det_math.h"

namespace phren::acoustics {

// The angle whose tangent is y / x, -pi..pi; 0 at the origin.
inline double angle_of(double y, double x) noexcept {
  const double r = det::sqrt(x * x + y * y);
  if (r == 0.0) return 0.0;
  const double ay = y < 0.0 ? -y : y, ax = x < 0.0 ? -x : x;
  const double t = ay < ax ? ay / ax : ax / ay;
  double a = t * (1.0584 - 0.273 * t);  // within 0.005; Newton does the rest
  if (ay > ax) a = 0.5 * det::kPi - a;
  for (int i = 0; i < 3; ++i) a += (ay * det::cos(a) - ax * det::sin(a)) / r;
  if (x < 0.0) a = det::kPi - a;
  return y < 0.0 ? -a : a;
}
// The angle whose sine is s, -pi/2..pi/2; s is clamped to -1..1.
inline double arcsine(double s) noexcept {
  const double c = std::clamp(s, -1.0, 1.0);
  return angle_of(c, det::sqrt(1.0 - c * c));
}
inline double ramp(double x, double low, double high) noexcept {
  return std::clamp((x - low) / (high - low), 0.0, 1.0);
}
inline double smooth_ramp(double x, double low, double high) noexcept {
  const double t = ramp(x, low, high);
  return t * t * (3.0 - 2.0 * t);
}
inline double blend(double a, double b, double t) noexcept {
  return a + (b - a) * t;
}

}  // namespace phren::acoustics
