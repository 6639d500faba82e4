// Eight sources side by side: the vector types and filters of the per-sample work.
//
// Shapes:  one Lanes holds one sample of eight independent sources; sums over lanes have a fixed
//          order, so results do not depend on the compiler or on the width of the machine's
//          registers.
// Errors:  none; nothing here allocates.
// Source:  state-variable filter in trapezoidal form (A. Simper 2013, "Linear trapezoidal
//          integrated SVF", from memory): stays stable while its settings move.
#pragma once

#include <cstddef>
#include <cstdint>

#include "base/det_math.h"
#include "signal/simd.h"

namespace phren::acoustics {

inline constexpr std::size_t kLanes = 8;
inline constexpr std::size_t kChunk = 128;  // frames per control step

typedef float Lanes __attribute__((vector_size(32)));
typedef std::int32_t LaneInts __attribute__((vector_size(32)));
typedef std::uint32_t LaneBits __attribute__((vector_size(32)));

inline float sum_of(const Lanes& v) noexcept {
  return ((v[0] + v[4]) + (v[1] + v[5])) + ((v[2] + v[6]) + (v[3] + v[7]));
}

// White noise, uniform in [-1, 1), from eight xorshift32 generators (Marsaglia 2003).
inline Lanes next_noise(LaneBits& state) noexcept {
  state ^= state << 13;
  state ^= state >> 17;
  state ^= state << 5;
  return __builtin_convertvector(reinterpret_cast<const LaneInts&>(state), Lanes) *
         4.656612873077393e-10f;
}

// Sine of eight phases in cycles, each at least -0.5; error below 2e-5. On one period
// sin 2 pi t = t (1 - 4 t^2) P(t^2); P interpolates at Chebyshev points.
inline Lanes sin_cycles(const Lanes& phase) noexcept {
  const Lanes t =
      phase - __builtin_convertvector(__builtin_convertvector(phase + 0.5f, LaneInts), Lanes);
  const Lanes t2 = t * t;
  return (t - 4.0f * t * t2) *
         (6.28309014f + t2 * (-16.1967544f + t2 * (16.5225345f - 8.00361183f * t2)));
}

// Settings of one second-order filter: corner and 1/Q, as the recursion wants them.
struct FilterSetting {
  float a1 = 1.0f, a2 = 0.0f, a3 = 0.0f, damping = 1.0f;
};
FilterSetting filter_setting(double corner_hz, double q, double sample_rate_hz) noexcept;
// Coefficient of y += a (x - y) with its -3 dB point at corner_hz.
float pole_setting(double corner_hz, double sample_rate_hz) noexcept;

struct LaneFilter {
  Lanes a1{}, a2{}, a3{}, damping{};
  Lanes s1{}, s2{};  // state
  void set(std::size_t lane, const FilterSetting& to) noexcept {
    a1[lane] = to.a1;
    a2[lane] = to.a2;
    a3[lane] = to.a3;
    damping[lane] = to.damping;
  }
  // `band` gets the band-pass output (peak gain Q); returns the low-pass output.
  inline Lanes step(const Lanes& in, Lanes& band) noexcept {
    const Lanes v3 = in - s2;
    band = a1 * s1 + a2 * v3;
    const Lanes low = s2 + a2 * s1 + a3 * v3;
    s1 = 2.0f * band - s1;
    s2 = 2.0f * low - s2;
    return low;
  }
};

// The same filter for one signal.
struct Filter {
  FilterSetting at;
  float s1 = 0.0f, s2 = 0.0f;
  struct Out {
    float low, band, high;
  };
  inline Out step(float in) noexcept {
    const float v3 = in - s2;
    const float band = at.a1 * s1 + at.a2 * v3;
    const float low = s2 + at.a2 * s1 + at.a3 * v3;
    s1 = 2.0f * band - s1;
    s2 = 2.0f * low - s2;
    return {low, band, in - at.damping * band - low};
  }
};

// Magnitude responses of the analogue models, for levels and masking.
double low_pass_power(double f_hz, double corner_hz, double q) noexcept;
double pole_power(double f_hz, double corner_hz) noexcept;

inline double smooth_step(double low, double high, double x) noexcept {
  const double t = x <= low ? 0.0 : x >= high ? 1.0 : (x - low) / (high - low);
  return t * t * (3.0 - 2.0 * t);
}
using det::clamp;
inline double mix(double a, double b, double t) noexcept {
  return a + (b - a) * t;
}

}  // namespace phren::acoustics
