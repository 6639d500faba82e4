// The flutter of turbulence: each band of the breath noise rises and falls by itself.
//
// Shapes:  process() works in place on the breath noise of a chunk; at rest it changes nothing.
// Errors:  none; nothing allocates.
// Source:  measured on 318 recordings of children and 19 of adults: the level of 32 ms in a band
//          moves 1.6-2.6 dB more than noise of the same spectrum would, fastest above 250 Hz;
//          what moves more than such noise
//          correlates by 0.7-0.95 between neighbouring bands, 0.6 two apart, 0.3-0.45 three apart.
#pragma once

#include "acoustics/bands.h"
#include "acoustics/scene.h"

namespace phren::acoustics {

class Flutter {
 public:
  explicit Flutter(Seed seed) noexcept;
  // `level_db` is added to every band: the hand's pressure, the course of this place; `band_db` is
  // what this placing does to each.
  void update(const Scene& scene, const Instrument& as, double amount, double level_db,
              const std::array<double, kNumBands>& band_db) noexcept;
  void process(Lanes* breath, std::size_t frames) noexcept;
  void process_windpipe(float* windpipe, std::size_t frames) noexcept;

 private:
  RandomStream draw_;
  BandWalks<4> fast_, slow_;
  LaneFilter filter_;
  LaneRamp gain_;  // of each band, less 1
  float windpipe_ = 1.0f, windpipe_step_ = 0.0f, windpipe_target_ = 1.0f;
  double set_for_hz_ = 0.0;
};

}  // namespace phren::acoustics
