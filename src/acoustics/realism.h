// Everything that reaches the chestpiece besides breath and findings, and the instrument's own
// response: one chain behind the clean sound, each part of which can be taken away while it sounds.
//
// Shapes:  update() once per chunk; then the per-sample work. With every layer off and a flat
//          instrument nothing here runs and no bit changes.
// Errors:  none; nothing allocates.
// Source:  docs/validation/acoustics.md; each layer names its own.
#pragma once

#include "acoustics/floor_noise.h"
#include "acoustics/flutter.h"
#include "acoustics/handling.h"
#include "acoustics/inner_noises.h"
#include "acoustics/layers.h"

namespace phren::acoustics {

class Realism {
 public:
  Realism(Seed seed, const patient::Person& person, const Torso& torso,
          double sample_rate_hz) noexcept;
  void set_mix(const LayerMix& mix) noexcept;
  const LayerMix& mix() const noexcept { return mix_; }
  void set_instrument(const Instrument& as) noexcept;
  void put_instrument_away() noexcept { has_instrument_ = false; }
  bool is_on() const noexcept { return is_on_; }

  void put_down(const SkinPlace& place) noexcept;  // from the air
  void slide_to(const SkinPlace& place) noexcept;
  void lift() noexcept { handling_.lift(); }
  void start_recorder() noexcept { wants_start_ = true; }
  void set_skin_air(double share) noexcept { skin_air_ = share; }

  // Tells the scene what the heart shall be like; before anything else of a chunk.
  void set_heart(Scene& scene) const noexcept;
  void update(const Scene& scene, const ContactState& contact) noexcept;
  void finish(TruthRing& truth) noexcept;
  bool has_flutter() const noexcept { return is_on_ && mix_[Layer::kFlutter] > 0.0; }
  Flutter& flutter() noexcept { return flutter_; }
  // Behind the contact: in place.
  void process(float* samples, std::size_t frames) noexcept;

 private:
  void settle() noexcept;
  void follow_noise(const Scene& scene, bool lies) noexcept;
  void set_chain() noexcept;
  double reference_at(const SkinPlace& place) const noexcept;

  // The chain as eight sections, each one sample behind the one before: tilt of the breath, the
  // six of the response, tilt of the whole.
  struct Chain {
    LaneFilter filter;
    Lanes high{}, band{}, low{}, last{};
  };
  void set_tilt(std::size_t lane, double db_per_octave) noexcept;

  Seed seed_;
  patient::Person person_;
  const Torso& torso_;
  double sample_rate_hz_;
  LayerMix mix_;
  Instrument as_;
  Flutter flutter_;
  FloorNoise floor_;
  Transients transients_;
  Handling handling_;
  InnerNoises inner_;
  Chain chain_;
  SkinPlace place_;
  FloorNoise::Placing floor_placing_;
  double breath_tilt_ = 0.0, whole_tilt_ = 0.0, flutter_size_ = 1.0;
  std::array<double, kNumBands> breath_bands_{};  // of this placing
  double body_reference_ = 0.0, reference_ = 0.0;
  Walk wander_;
  RandomStream wander_draw_;
  float gain_ = 1.0f;
  double skin_air_ = 0.0;
  std::uint64_t placings_ = 0;
  TruthEvent body_noise_;
  bool is_noise_open_ = false;
  bool is_on_ = false, has_instrument_ = false, wants_start_ = false;
  std::array<float, kChunk> floor_samples_{}, transient_samples_{};
};

}  // namespace phren::acoustics
