// Made-up sounds with known content, for tests of measurement.
#pragma once

#include <cmath>
#include <vector>

#include "base/random.h"
#include "measurement/types.h"

namespace phren::measurement::test {

inline std::vector<float> noise(double seconds, double rms, std::uint64_t seed,
                                double rate_hz = kWorkRate_hz) {
  RandomStream random(Seed{seed}, "measurement_test");
  std::vector<float> x(static_cast<std::size_t>(seconds * rate_hz));
  for (float& v : x) v = static_cast<float>(rms * random.normal());
  return x;
}

inline void add_tone(std::vector<float>& x, double hz, double start_s, double length_s,
                     double amplitude, double rate_hz = kWorkRate_hz) {
  const auto begin = static_cast<std::size_t>(std::lround(start_s * rate_hz));
  const auto count = static_cast<std::size_t>(std::lround(length_s * rate_hz));
  for (std::size_t i = 0; i < count && begin + i < x.size(); ++i)
    x[begin + i] += static_cast<float>(
        amplitude * std::sin(2.0 * M_PI * hz * static_cast<double>(i) / rate_hz));
}

// The simulated crackle of acoustics notes 4b: y = sin(4 pi t^a) (1 + cos(2 pi (t^0.5 - 0.5))) / 2,
// t = time / 2CD, a = log 0.25 / log(IDW / 2CD). Its first zero is at IDW, its fourth at 2CD.
inline void add_crackle(std::vector<float>& x, double at_s, double idw_ms, double two_cycle_ms,
                        double amplitude, double rate_hz = kWorkRate_hz) {
  const double a = std::log(0.25) / std::log(idw_ms / two_cycle_ms);
  const auto begin = static_cast<std::size_t>(std::ceil(at_s * rate_hz));
  for (std::size_t i = begin; i < x.size(); ++i) {
    const double t = (static_cast<double>(i) / rate_hz - at_s) * 1000.0 / two_cycle_ms;
    if (t >= 1.0) break;
    x[i] += static_cast<float>(amplitude * std::sin(4.0 * M_PI * std::pow(t, a)) * 0.5 *
                               (1.0 + std::cos(2.0 * M_PI * (std::sqrt(t) - 0.5))));
  }
}

// Breaths as shaped noise: inspiration, expiration `ratio_db` softer, then a pause.
inline std::vector<float> breathing(double seconds, double rate_per_min, double ratio_db,
                                    std::uint64_t seed, double floor = 1e-4) {
  std::vector<float> x = noise(seconds, 1.0, seed);
  const double period_s = 60.0 / rate_per_min;
  const double soft = std::pow(10.0, -ratio_db / 20.0);
  float low = 0.0f;
  for (std::size_t i = 0; i < x.size(); ++i) {
    low += 0.35f * (x[i] - low);  // falls with frequency, like a breath
    const double t = std::fmod(static_cast<double>(i) / kWorkRate_hz, period_s) / period_s;
    double gain = floor;
    if (t < 0.35) gain += 0.02 * std::sin(M_PI * t / 0.35);
    if (t >= 0.40 && t < 0.80) gain += 0.02 * soft * std::sin(M_PI * (t - 0.40) / 0.40);
    x[i] = static_cast<float>(gain) * low;
  }
  return x;
}

}  // namespace phren::measurement::test
