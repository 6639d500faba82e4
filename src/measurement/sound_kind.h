// What kind of recording this is, by its sound alone: a children's sensor, an electronic
// stethoscope, or another stethoscope or microphone. Labels lean on it (decision.h), because each
// kind had its own raters and its own idea of quiet.
//
// Shapes:  kNumSoundStatistics numbers: of 16 bands from 47 to 1313 Hz the mean level over the
//          frames, less the mean of all bands; then the standard deviation of each over time. dB.
// Errors:  none; before any frame all are zero.
// Limits:  gain does not matter. What lies far from every kind is said to be unlike all
//          (`distance`).
#pragma once

#include <cstdint>
#include <tuple>

#include "measurement/analysis.h"

namespace phren::measurement {

inline constexpr std::size_t kNumSoundBands = 16, kNumSoundStatistics = 2 * kNumSoundBands;
using SoundStatistics = std::array<double, kNumSoundStatistics>;
// Of each band the level that 5, 50 and 95 % of the frames stay under, less the mean of all bands'
// middle ones; then the standard deviation.
using FloorStatistics = std::array<double, 4 * kNumSoundBands>;

class SoundMeter {
 public:
  void add(const Analysis& analysis, std::size_t first_frame, std::size_t end_frame);
  SoundStatistics statistics() const;
  FloorStatistics floor_statistics() const;

 private:
  static constexpr int kLowest_db = -200;
  using Histogram = std::array<std::uint32_t, 240>;  // of 1 dB
  double level_db(std::size_t band, double share) const;

  std::array<double, kNumSoundBands> sum_{}, squares_{};
  std::array<Histogram, kNumSoundBands> counts_{};
  double num_frames_ = 0.0;
};

// Whether a microphone that clips on was used rather than a stethoscope: its floor is another. The
// log-odds are linear in the statistics; fitted by training/judges.py.
struct ClipOnModel {
  FloorStatistics mean{}, deviation{};
  std::array<double, std::tuple_size_v<FloorStatistics> + 1> weights{};
  double probability(const FloorStatistics& statistics) const;
};

// Linear in the statistics, through a softmax; fitted by training/kinds.py.
struct KindModel {
  SoundStatistics mean{}, deviation{};
  std::array<std::array<double, kNumSoundStatistics + 1>, kNumRecordingKinds> weights{};
  std::array<SoundStatistics, kNumRecordingKinds> centre{}, spread{};  // of each kind, standardised
  double farthest = 0.0;  // a larger distance is that of 1 in 100 recordings of the three sets
  KindProbabilities probabilities(const SoundStatistics& statistics) const;
  // Root mean square of the standardised differences from the nearest kind.
  double distance(const SoundStatistics& statistics) const;
};

}  // namespace phren::measurement
