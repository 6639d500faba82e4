// What every sound must be before anything is measured in it, however it was read.
//
// Errors:  kInvalidArgument (rate or channel count out of range), kMalformed (no samples, samples
//          that are not numbers); each names the sound and what would be right.
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "base/result.h"

namespace phren::signal {

Status check_sound(int sample_rate_hz, int num_channels, std::int64_t num_frames,
                   const std::string& name);
// `first`: how many samples of the sound came before these.
Status check_samples(std::span<const float> samples, std::uint64_t first, const std::string& name);

// What is said of a file that ends before the sound that its header promises.
std::string cut_short(const std::string& name, std::uint64_t missing_bytes);

}  // namespace phren::signal
