// Short-time power spectra.
//
// Shapes:  power[frame * num_bins + bin], num_bins = fft_size / 2 + 1 unless fewer are kept. Frame
// f starts at sample
//          f * hop_samples of the block given; a block of n samples has
//          1 + (n - window_samples) / hop_samples frames (0 if shorter than the window).
// Units:   power of the windowed block, divided by the sum of squared window weights: white noise
// of
//          variance v gives v in every bin.
// Errors:  make() rejects bad settings; process() cannot fail.
// Threads: an instance belongs to one thread.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "base/result.h"
#include "signal/fft.h"

namespace phren::signal {

struct StftConfig {
  std::size_t fft_size = 512;        // a power of two, 8 .. 65536
  std::size_t window_samples = 512;  // 2 .. fft_size; Hann, periodic
  std::size_t hop_samples = 128;     // at least 1
  std::size_t kept_bins = 0;         // how many of the lowest bins to give; 0: all
};

// Hann window, periodic form: 0.5 - 0.5 cos(2 pi n / size).
std::vector<float> hann_window(std::size_t size);

class Stft {
 public:
  static Result<Stft> make(const StftConfig& config);

  const StftConfig& config() const { return config_; }
  std::size_t num_bins() const {
    return config_.kept_bins > 0 ? config_.kept_bins : config_.fft_size / 2 + 1;
  }
  std::size_t num_frames(std::size_t num_samples) const;
  // Writes num_frames(block.size()) rows. REQUIRES: power holds that many rows.
  void process(std::span<const float> block, std::span<float> power);

 private:
  static constexpr std::size_t kLanes = 8;
  explicit Stft(const StftConfig& config);
  StftConfig config_;
  std::vector<float> window_;  // scaled so that the power needs no division
  RealFft<kLanes> fft_;
  std::vector<float> lane_power_;
};

}  // namespace phren::signal
