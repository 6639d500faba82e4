#include "signal/stft.h"

#include <algorithm>
#include <cassert>
#include <cstring>

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
      lane_power_(num_bins() * kLanes) {
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
  if (config.kept_bins > n / 2 + 1)
    return fail(out_of_range("kept_bins", std::to_string(config.kept_bins),
                             "at most fft_size / 2 + 1, or 0 for all"));
  if (config.hop_samples < 1) return fail(out_of_range("hop_samples", "0", "at least 1"));
  return Stft(config);
}

std::size_t Stft::num_frames(std::size_t num_samples) const {
  if (num_samples < config_.window_samples) return 0;
  return 1 + (num_samples - config_.window_samples) / config_.hop_samples;
}

namespace {

constexpr std::size_t kLanes = 8;
typedef float Eight __attribute__((vector_size(32)));

struct Group {
  const float* samples;
  std::size_t hop, window_size, num_used, num_bins;
  const float* window;
  float* lane_power;
  float* power;
};

PHREN_INLINE void load(Eight& v, const float* from) {
  std::memcpy(&v, from, sizeof v);
}
PHREN_INLINE void store(float* to, const Eight& v) {
  std::memcpy(to, &v, sizeof v);
}

// Turns eight rows of eight into eight columns: pairs, then fours, then eights change places.
PHREN_INLINE void transpose(Eight (&r)[8]) {
  Eight a[8];
  for (std::size_t i = 0; i < 8; i += 2) {
    a[i] = __builtin_shufflevector(r[i], r[i + 1], 0, 8, 2, 10, 4, 12, 6, 14);
    a[i + 1] = __builtin_shufflevector(r[i], r[i + 1], 1, 9, 3, 11, 5, 13, 7, 15);
  }
  for (std::size_t i = 0; i < 8; i += 4)
    for (std::size_t j = i; j < i + 2; ++j) {
      r[j] = __builtin_shufflevector(a[j], a[j + 2], 0, 1, 8, 9, 4, 5, 12, 13);
      r[j + 2] = __builtin_shufflevector(a[j], a[j + 2], 2, 3, 10, 11, 6, 7, 14, 15);
    }
  for (std::size_t j = 0; j < 4; ++j) {
    const Eight low = r[j], high = r[j + 4];
    r[j] = __builtin_shufflevector(low, high, 0, 1, 2, 3, 8, 9, 10, 11);
    r[j + 4] = __builtin_shufflevector(low, high, 4, 5, 6, 7, 12, 13, 14, 15);
  }
}

// Eight windowed frames side by side, even samples apart from odd ones, zeros behind the window.
PHREN_INLINE void gather(const Group& g, RealFft<kLanes>& fft) {
  Eight rows[8];
  std::size_t n = 0;
  for (; n + 8 <= g.window_size; n += 8) {
    Eight w;
    load(w, g.window + n);
    for (std::size_t l = 0; l < kLanes; ++l) {
      rows[l] = Eight{};
      if (l < g.num_used) load(rows[l], g.samples + l * g.hop + n);
      rows[l] *= w;
    }
    transpose(rows);
    for (std::size_t i = 0; i < 8; i += 2) {
      store(fft.even((n + i) / 2), rows[i]);
      store(fft.odd((n + i) / 2), rows[i + 1]);
    }
  }
  for (; n < fft.size(); ++n) {
    float* to = n % 2 == 0 ? fft.even(n / 2) : fft.odd(n / 2);
    for (std::size_t l = 0; l < kLanes; ++l)
      to[l] = n < g.window_size && l < g.num_used ? g.window[n] * g.samples[l * g.hop + n] : 0.0f;
  }
}

PHREN_INLINE void scatter(const Group& g) {
  Eight rows[8];
  std::size_t k = 0;
  for (; k + 8 <= g.num_bins; k += 8) {
    for (std::size_t i = 0; i < 8; ++i) load(rows[i], g.lane_power + (k + i) * kLanes);
    transpose(rows);
    for (std::size_t l = 0; l < g.num_used; ++l) store(g.power + l * g.num_bins + k, rows[l]);
  }
  for (; k < g.num_bins; ++k)
    for (std::size_t l = 0; l < g.num_used; ++l)
      g.power[l * g.num_bins + k] = g.lane_power[k * kLanes + l];
}

PHREN_SIMD_CLONES void transform_group(const Group& g, RealFft<kLanes>& fft) {
  gather(g, fft);
  fft.power(g.lane_power, g.num_bins);
  scatter(g);
}

}  // namespace

void Stft::process(std::span<const float> block, std::span<float> power) {
  const std::size_t frames = num_frames(block.size()), bins = num_bins();
  assert(power.size() >= frames * bins);
  for (std::size_t f = 0; f < frames; f += kLanes) {
    const Group group{block.data() + f * config_.hop_samples,
                      config_.hop_samples,
                      config_.window_samples,
                      std::min(kLanes, frames - f),
                      bins,
                      window_.data(),
                      lane_power_.data(),
                      power.data() + f * bins};
    transform_group(group, fft_);
  }
}

}  // namespace phren::signal
