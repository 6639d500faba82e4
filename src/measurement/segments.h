// Where the events of a piece are, by the networks' frames: every stretch from a peak of the onset
// output to one of the offset output is judged by small networks of its own (how likely is it
// one event, and of which kind), and the stretches without overlap that sum highest are kept.
//
// Shapes:  frame logits as Network::frame_logits() gives them, [output][frame].
// Units:   frames of 40 ms; seconds from the start of the piece where the name says so.
// Errors:  none; Decision::load() has checked the sizes.
// Source:  training/segments.py fits it and defines the features.
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

namespace phren::measurement {

struct SegmentFinder {
  static constexpr std::size_t kNumFeatures = 41, kNumAnswers = 4;  // none, then three kinds
  using Rows = std::vector<std::vector<double>>;  // of one layer; the last number stands alone
  std::vector<double> mean, deviation;
  std::vector<std::vector<Rows>> judges;  // layers of each; what they say is averaged
  // A kept stretch must be more likely an event than `cost`, or more likely a continuous sound than
  // `continuous_cost`, in so far as it would be called one.
  double cost = 0.35, continuous_cost = 0.17;
  // `path_s`: events by the best path, for how long they usually are in this recording.
  std::vector<std::pair<double, double>> find(
      std::span<const float> logits, std::size_t num_frames,
      std::span<const std::pair<double, double>> path_s) const;
};

}  // namespace phren::measurement
