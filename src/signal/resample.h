// Change of sample rate by libsoxr, whole or block by block.
//
// Units:   rates in Hz. Shapes: mono.
// Errors:  kInvalidArgument naming the rate and its allowed range.
// Threads: a Resampler belongs to one thread.
// Limits:  content above 45 % of the lower rate is removed; delay is compensated.
#pragma once

#include <memory>
#include <span>
#include <vector>

#include "base/result.h"
#include "signal/audio.h"

namespace phren::signal {

class Resampler {
 public:
  static Result<Resampler> make(double from_hz, double to_hz);
  Resampler(Resampler&&) noexcept;
  Resampler& operator=(Resampler&&) noexcept;
  ~Resampler();

  // Appends what is ready to `out`. Any split into blocks gives the same samples.
  void process(std::span<const float> in, std::vector<float>& out);
  void finish(std::vector<float>& out);  // appends the tail; call once, at the end

 private:
  struct Impl;
  explicit Resampler(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

Result<Audio> resample(const Audio& audio, double to_hz);

}  // namespace phren::signal
