// What a chestpiece hears when nobody breathes: skin, body and the recorder's own noise, and the
// low rumble of muscles at work.
//
// Shapes:  make() writes `frames` samples. Units: full scale after the wall and the instrument.
// Errors:  none; nothing allocates.
// Source:  levels by band and device measured between breaths (data/instruments); muscle sound 11
//          Hz at rest to 22 Hz at full force (Orizio 1990), growing with effort (Lozano-Garcia
//          2018).
#pragma once

#include "acoustics/bands.h"
#include "acoustics/scene.h"

namespace phren::acoustics {

class FloorNoise {
 public:
  explicit FloorNoise(Seed seed) noexcept;
  // How this placing differs from the middle one.
  struct Placing {
    double level_db = 0.0, tilt_db_per_octave = 0.0;
    std::array<double, kNumBands> band_db{};
  };
  // What the response will do to each band: the floor's figures are those behind the instrument.
  void set_instrument(const Instrument& as, const Placing& placing, double sample_rate_hz) noexcept;
  // `breath` is the reference level; amounts as in LayerMix.
  void update(const Scene& scene, const Instrument& as, double breath, double floor_amount,
              double muscle_amount) noexcept;
  void make(float* out, std::size_t frames) noexcept;
  // Power between 100 and 1000 Hz and in all, for masking.
  double density() const noexcept { return density_; }

 private:
  RandomStream draw_;
  LaneBits noise_{};
  LaneFilter steep_, band_;
  LaneRamp gain_;
  BandWalks<2> wander_;
  std::array<double, kNumBands> lane_level_{};  // re breath, amplitude
  double heard_ = 0.0, density_ = 0.0, effort_ = 0.0;
};

}  // namespace phren::acoustics
