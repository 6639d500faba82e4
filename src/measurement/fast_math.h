// Logarithm and exponential that the compiler can run on whole vectors.
//
// Accuracy: relative error below 1e-6 (tests/measurement/fast_math_test.cc, against libm).
// Source:   the polynomials of the Cephes library's logf and expf (S. L. Moshier; from memory).
#pragma once

#include <bit>
#include <cstdint>

#include "signal/simd.h"

namespace phren::measurement {

PHREN_INLINE float fast_log(float x) noexcept {  // natural; REQUIRES x > 0, normal
  const std::uint32_t bits = std::bit_cast<std::uint32_t>(x);
  // Mantissa in [sqrt(1/2), sqrt(2)), exponent accordingly.
  const std::uint32_t shifted = bits - 0x3F3504F3u;
  const auto exponent = static_cast<float>(static_cast<std::int32_t>(shifted) >> 23);
  const float m = std::bit_cast<float>((shifted & 0x007FFFFFu) + 0x3F3504F3u) - 1.0f;
  const float z = m * m;
  float y = 7.0376836292e-2f;
  y = y * m - 1.1514610310e-1f;
  y = y * m + 1.1676998740e-1f;
  y = y * m - 1.2420140846e-1f;
  y = y * m + 1.4249322787e-1f;
  y = y * m - 1.6668057665e-1f;
  y = y * m + 2.0000714765e-1f;
  y = y * m - 2.4999993993e-1f;
  y = y * m + 3.3333331174e-1f;
  y = y * m * z;
  y += -2.12194440e-4f * exponent - 0.5f * z;
  return m + y + 0.693359375f * exponent;
}

PHREN_INLINE float fast_exp(float x) noexcept {  // saturates outside +-87
  x = x < -87.0f ? -87.0f : (x > 87.0f ? 87.0f : x);
  const float scaled = x * 1.44269504088896341f;
  const float n =
      static_cast<float>(static_cast<std::int32_t>(scaled + (scaled < 0 ? -0.5f : 0.5f)));
  x -= n * 0.693359375f;
  x += n * 2.12194440e-4f;
  float y = 1.9875691500e-4f;
  y = y * x + 1.3981999507e-3f;
  y = y * x + 8.3334519073e-3f;
  y = y * x + 4.1665795894e-2f;
  y = y * x + 1.6666665459e-1f;
  y = y * x + 5.0000001201e-1f;
  y = y * x * x + x + 1.0f;
  const auto power = static_cast<std::uint32_t>(static_cast<std::int32_t>(n) + 127) << 23;
  return y * std::bit_cast<float>(power);
}

PHREN_INLINE float power_db(float power) noexcept {  // 10 log10, floor at -140 dB
  return 4.34294481903f * fast_log(power + 1e-14f);
}

}  // namespace phren::measurement
