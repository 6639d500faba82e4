#include "signal/sound_checks.h"

#include <cmath>

#include "signal/audio.h"

namespace phren::signal {

Status check_sound(int sample_rate_hz, int num_channels, std::int64_t num_frames,
                   const std::string& name) {
  if (sample_rate_hz < kMinSampleRate_hz || sample_rate_hz > kMaxSampleRate_hz)
    return fail(at(name, out_of_range("sample rate", std::to_string(sample_rate_hz) + " Hz",
                                      "between 1000 and 384000 Hz")));
  if (num_channels < 1 || num_channels > 2)
    return fail(at(name, out_of_range("channel count", std::to_string(num_channels),
                                      "1 (mono) or 2 (stereo)")));
  if (num_frames <= 0)
    return fail(ErrorCode::kMalformed, name + ": holds no samples; a recording must have some");
  return {};
}

Status check_samples(std::span<const float> samples, std::uint64_t first, const std::string& name) {
  for (std::size_t i = 0; i < samples.size(); ++i)
    if (!(std::fabs(samples[i]) <= kMaxMagnitude))
      return fail(ErrorCode::kMalformed, name + ": sample " + std::to_string(first + i) +
                                             " is not a number within +-10000 of full scale");
  return {};
}

std::string cut_short(const std::string& name, std::uint64_t missing_bytes) {
  return name + ": cut short, " + std::to_string(missing_bytes) +
         " bytes of sound promised by its header are missing; copy the file again";
}

}  // namespace phren::signal
