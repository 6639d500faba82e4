// How loud, over time.
//
// Shapes:  value i covers samples [i * hop, i * hop + window), windows at the end cut short.
// Units:   same as the samples; dB re full scale where the name says so.
// Errors:  none; REQUIRES window >= 1 and hop >= 1.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace phren::signal {

std::vector<float> rms_envelope(std::span<const float> samples, std::size_t window_samples,
                                std::size_t hop_samples);

double rms(std::span<const float> samples);                        // 0 for an empty block
double dbfs_from_rms(double rms_value);                            // -200 for silence
double median_of(std::vector<double> values);                      // 0 for none
double percentile_of(std::vector<double> values, double percent);  // linear between ranks

// Running mean over 2 * radius + 1 values, windows at the ends cut short.
std::vector<float> smoothed(std::span<const float> values, std::size_t radius);

}  // namespace phren::signal
