// Musical sounds as eight oscillators side by side, and the log of when each could be heard.
//
// Shapes:  process() adds to `out`, one Lanes per frame.
// Units:   pitch Hz, level as amplitude at the skin before the wall.
// Errors:  none; nothing allocates.
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"

namespace phren::acoustics {

// y = sin(2 pi (p + bend sin 2 pi p)) (1 - damp p)^2 for the phase p: bend adds harmonics, damp = 1
// makes each period die away within itself (the rapidly damped wave of a rhonchus).
class ToneLanes {
 public:
  struct Target {
    double pitch_hz = 200.0;
    double amplitude = 0.0;
    double bend = 0.0;
    double damp = 0.0;
  };
  // Mean square over that of a plain sine, the mean left out, which no chest passes on: damping
  // leaves an eighth at damp = 1 (closed form of the wave above; between, from 1 straight down).
  static constexpr double power_ratio(double damp) { return 1.0 - 0.875 * damp; }
  void set(std::size_t lane, const Target& target, double sample_rate_hz,
           std::size_t frames) noexcept;
  void process(Lanes* out, std::size_t frames) noexcept;
  bool is_audible() const noexcept;

 private:
  Lanes phase_{}, turn_{}, bend_{}, damp_{};
  Lanes gain_{}, gain_step_{}, target_{};
};

// Turns the level of one tone over time into truth events.
class TonalTrack {
 public:
  struct Now {
    exam::Sound sound = exam::Sound::kWheeze;
    Region region = Region::kRul;
    double pitch_hz = 0.0;
    double mean_square = 0.0;
  };
  void follow(const Scene& scene, const Now& now) noexcept;
  void finish(TruthRing& truth) noexcept;  // closes the event going on, if any

 private:
  bool open_ = false;
  TruthEvent event_;
  double pitch_sum_ = 0.0, weight_ = 0.0, best_db_ = -100.0;
};

}  // namespace phren::acoustics
