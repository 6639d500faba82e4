#include "signal/stft.h"

#include <algorithm>
#include <cassert>

namespace phren::signal {

std::vector<float> hann_window(std::size_t size) {
  std::vector<float> window(size);
  for (std::size_t n = 0; n < size; ++n)
    window[n] = static_cast<float>(
        0.5 - 0.5 * det::cos(det::kTwoPi * static_cast<double>(n) / static_cast<double>(size)));
  return window;
}

Stft::Stft(const StftConfig& config)
    : config_(config),
      window_(hann_window(config.window_samples)),
      fft_(config.fft_size),
      lanes_(config.fft_size * kLanes, 0.0f),
      lane_power_(fft_.num_bins() * kLanes) {
  double sum = 0.0;
  for (const float w : window_) sum += static_cast<double>(w) * static_cast<double>(w);
  const float scale = static_cast<float>(1.0 / det::sqrt(sum));
  for (float& w : window_) w *= scale;
}

Result<Stft> Stft::make(const StftConfig& config) {
  const std::size_t n = config.fft_size;
  if (n < 8 || n > 65536 || (n & (n - 1)) != 0)
    return fail(out_of_range("fft_size", std::to_string(n), "a power of two from 8 to 65536"));
  if (config.window_samples < 2 || config.window_samples > n)
    return fail(out_of_range("window_samples", std::to_string(config.window_samples),
                             "from 2 to fft_size"));
  if (config.hop_samples < 1) return fail(out_of_range("hop_samples", "0", "at least 1"));
  return Stft(config);
}

std::size_t Stft::num_frames(std::size_t num_samples) const {
  if (num_samples < config_.window_samples) return 0;
  return 1 + (num_samples - config_.window_samples) / config_.hop_samples;
}

namespace {

template <std::size_t kLanes>
struct Group {
  const float* samples;
  std::size_t hop, window_size, num_used, num_bins;
  const float* window;
  float* lanes;
  float* lane_power;
  float* power;
};

template <std::size_t kLanes>
PHREN_SIMD_CLONES void transform_group(const Group<kLanes>& g, RealFft<kLanes>& fft) {
  for (std::size_t l = 0; l < g.num_used; ++l) {
    const float* from = g.samples + l * g.hop;
    for (std::size_t n = 0; n < g.window_size; ++n) g.lanes[n * kLanes + l] = g.window[n] * from[n];
  }
  fft.power(g.lanes, g.lane_power);
  for (std::size_t l = 0; l < g.num_used; ++l) {
    float* row = g.power + l * g.num_bins;
    for (std::size_t k = 0; k < g.num_bins; ++k) row[k] = g.lane_power[k * kLanes + l];
  }
}

}  // namespace

void Stft::process(std::span<const float> block, std::span<float> power) {
  const std::size_t frames = num_frames(block.size()), bins = num_bins();
  assert(power.size() >= frames * bins);
  for (std::size_t f = 0; f < frames; f += kLanes) {
    const Group<kLanes> group{block.data() + f * config_.hop_samples,
                              config_.hop_samples,
                              config_.window_samples,
                              std::min(kLanes, frames - f),
                              bins,
                              window_.data(),
                              lanes_.data(),
                              lane_power_.data(),
                              power.data() + f * bins};
    transform_group(group, fft_);
  }
}

}  // namespace phren::signal
