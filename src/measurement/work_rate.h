// Brings sound of any rate to the work rate of 4 kHz, block by block.
//
// Shapes:  output sample m lies at time m / 4000 s; delay is compensated. finish() brings the rest.
// Errors:  make() rejects rates outside 1000..384000 Hz.
// Source:  halved by half-band filters (fast; flat within 0.01 dB to 1300 Hz, aliases 80 dB down
//          there) to 4 kHz where that is reached, else as long as four times the work rate is not
//          undercut, and then by signal::Resampler.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/result.h"
#include "signal/resample.h"

namespace phren::measurement {

class HalfBand {  // halves the rate
 public:
  HalfBand();
  void process(std::span<const float> in, std::vector<float>& out);
  void finish(std::vector<float>& out);

 private:
  void produce(std::vector<float>& out);
  std::vector<float> even_, odd_;  // waiting input, split by parity, with history in front
  bool next_is_odd_ = false;
  std::size_t num_in_ = 0, num_out_ = 0;
};

class WorkRate {
 public:
  static Result<WorkRate> make(double from_hz);
  void process(std::span<const float> in, std::vector<float>& out);
  void finish(std::vector<float>& out);

 private:
  void deliver(std::span<const float> halved, std::vector<float>& out);

  std::vector<HalfBand> halvings_;
  std::vector<std::vector<float>> between_;
  std::optional<signal::Resampler> resampler_;
};

}  // namespace phren::measurement
