#include "acoustics/lanes.h"

namespace phren::acoustics {

FilterSetting filter_setting(double corner_hz, double q, double sample_rate_hz) noexcept {
  const double f = clamp(corner_hz, 5.0, 0.45 * sample_rate_hz);
  const double angle = det::kPi * f / sample_rate_hz;
  const double g = det::sin(angle) / det::cos(angle);
  const double damping = 1.0 / q;
  const double a1 = 1.0 / (1.0 + g * (g + damping));
  return {static_cast<float>(a1), static_cast<float>(g * a1), static_cast<float>(g * g * a1),
          static_cast<float>(damping)};
}

float pole_setting(double corner_hz, double sample_rate_hz) noexcept {
  const double f = clamp(corner_hz, 1.0, 0.45 * sample_rate_hz);
  return static_cast<float>(1.0 - det::exp(-det::kTwoPi * f / sample_rate_hz));
}

double low_pass_power(double f_hz, double corner_hz, double q) noexcept {
  const double x2 = (f_hz / corner_hz) * (f_hz / corner_hz);
  return 1.0 / ((1.0 - x2) * (1.0 - x2) + x2 / (q * q));
}

double pole_power(double f_hz, double corner_hz) noexcept {
  return 1.0 / (1.0 + (f_hz / corner_hz) * (f_hz / corner_hz));
}

}  // namespace phren::acoustics
