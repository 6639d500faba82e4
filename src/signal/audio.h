// A stretch of sound: mono samples with their rate.
//
// Units:   samples in full scale (+-1.0), rate in Hz.
#pragma once

#include <cstddef>
#include <vector>

namespace phren::signal {

struct Audio {
  double sample_rate_hz = 0.0;
  std::vector<float> samples;

  double duration_s() const {
    return sample_rate_hz > 0.0 ? static_cast<double>(samples.size()) / sample_rate_hz : 0.0;
  }
};

inline constexpr double kMinSampleRate_hz = 1000.0;    // below, no breath sound survives
inline constexpr double kMaxSampleRate_hz = 384000.0;  // above, the header is surely wrong
inline constexpr float kMaxMagnitude = 1.0e4f;  // float files may exceed full scale, not this

}  // namespace phren::signal
