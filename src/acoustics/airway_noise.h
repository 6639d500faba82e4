// Sound of the large airways: turbulence in trachea and main bronchi, and the jet of a narrowed
// larynx, as one signal at the windpipe.
//
// Shapes:  process() writes `frames` samples of the windpipe signal.
// Units:   full scale at the skin of the neck, before the wall.
// Source:  trachea broad and flat with a sharp cut-off between 850 and 1600 Hz (Gavriely 1981), no
//          difference between phases, 18 dB above the chest (Gavriely & Cugell 1996; Mussell 1992).
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

class AirwayNoise {
 public:
  explicit AirwayNoise(Seed seed) noexcept;
  void update(const Scene& scene) noexcept;
  void process(float* out, std::size_t frames) noexcept;
  double density() const noexcept { return density_; }  // flow noise alone
  double corner_hz() const noexcept { return corner_hz_; }
  bool is_audible() const noexcept { return audible_; }

 private:
  // Lanes: larynx, trachea, right and left main bronchus, jet, jet overtone, mouth, throat wall.
  LaneBits noise_{};
  LaneFilter first_, second_;
  Lanes gain_{}, gain_step_{}, target_{};
  double density_ = 0.0, corner_hz_ = 1050.0;
  bool audible_ = false;
};

}  // namespace phren::acoustics
