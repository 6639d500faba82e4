// Change of sample rate, whole or block by block: a windowed sinc of our own, because the same code
// must run natively and in the browser, where no library for it is packaged.
//
// Units:   rates in Hz. Shapes: mono; output sample m lies at time m / to_hz, delay is compensated.
// Errors:  kInvalidArgument naming the rate and its allowed range.
// Threads: a Resampler belongs to one thread.
// Limits:  content above 45.5 % of the lower rate is removed (80 dB down from 54.5 %).
// Source:  Kaiser window (J. F. Kaiser, 1974; from memory); checked against libsoxr in
//          tests/signal/resample_test.cc.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"
#include "signal/audio.h"

namespace phren::signal {

class Resampler {
 public:
  static Result<Resampler> make(double from_hz, double to_hz);

  // Appends what is ready to `out`. Any split into blocks gives the same samples.
  void process(std::span<const float> in, std::vector<float>& out);
  void finish(std::vector<float>& out);  // appends the tail; call once, at the end

 private:
  Resampler(double from_hz, double to_hz);
  // The weights of the 2 half_ inputs around an output that lies `part` of a sample behind one.
  void weigh(double part, float* weights) const;
  void produce(std::vector<float>& out);

  double ratio_ = 1.0;  // inputs per output
  std::size_t half_ = 0;
  // Whole rates come back to the same parts: output m lies at m * step_ / phases_. 0: they do not.
  std::uint64_t step_ = 0, phases_ = 0;
  std::vector<float> weights_;  // [phase][tap]; one row if there are no phases
  std::vector<float> waiting_;  // input from half_ before num_dropped_ on
  std::uint64_t num_in_ = 0, num_out_ = 0, num_dropped_ = 0;
};

Result<Audio> resample(const Audio& audio, double to_hz);

}  // namespace phren::signal
