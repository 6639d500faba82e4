// The patient's voice at the windpipe: a long "ee", counting aloud, and the glottis in a cough.
//
// Shapes:  process() adds `frames` samples to the windpipe signal.
// Units:   full scale at the skin of the neck, before the wall.
// Errors:  none; nothing allocates.
// Source:  source and formants (Fant 1960; formant places of "ee" and "ah" from memory). Healthy
//          lung passes little of a voice above 300 Hz; solid lung and the rim of an effusion pass
//          it: "ee" then sounds like "ay" and words can be told apart. Levels: ENGINEERING.
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

class VoiceSource {
 public:
  VoiceSource(Seed seed, const patient::Person& person) noexcept;
  void update(const Scene& scene) noexcept;
  void process(float* windpipe, std::size_t frames) noexcept;
  bool is_audible() const noexcept { return level_ > 1e-6f || target_ > 1e-6f; }
  void finish(TruthRing& truth) noexcept;

 private:
  void shape_mouth(double openness, double sample_rate_hz) noexcept;

  RandomStream jitter_;
  double pitch_hz_, tract_;  // tract: formants against a man's
  std::array<Filter, 4> formants_;
  std::array<float, 4> weight_{};
  float phase_ = 0.0f, turn_ = 0.0f, level_ = 0.0f, step_ = 0.0f, target_ = 0.0f;
  double speaking_s_ = 0.0;
  bool open_ = false;
  TruthEvent event_;
};

}  // namespace phren::acoustics
