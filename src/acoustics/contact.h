// The last step to the ear: chest wall, chestpiece, cloth, and the noise of the room around.
//
// Shapes:  process() works in place on `frames` samples.
// Units:   full scale 1.0 is kFullScale_dbspl under the chestpiece.
// Errors:  none; nothing allocates.
// Source:  wall as a mass, level with 1 / thickness (own derivation from mass law); bell boosts
//          37-112 Hz, diaphragm cuts there (Abella 1992); noise levels: ambulance 68-91 dB(A)
//          (NIOSH 1986, 2008 and 2017 surveys), helicopter 90-100 dB. Curves of chestpieces, noise
//          spectra, leakage: ENGINEERING.
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/listening.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

struct ContactState {
  Head head = Head::kDiaphragm;
  Surroundings surroundings = Surroundings::kQuiet;
  double pressure = kUsualPressure;  // 0 barely touching .. 1 pressed hard
  double clothing = 0.0;             // 0 bare skin, 1 a thick coat
  double hair = 0.0;                 // 0 none .. 1 thick
  double speed_cm_per_s = 0.0;
  double lifted = 0.0;  // 1 = off the skin
  bool operator==(const ContactState&) const = default;
};

class Contact {
 public:
  Contact(Seed seed, double sample_rate_hz) noexcept;
  void update(const Scene& scene, const ContactState& state) noexcept;
  // `room` is what radiates into the room from the patient's mouth (stridor, voice).
  void process(float* samples, const float* room, std::size_t frames) noexcept;

 private:
  struct Ramp {
    float now = 0.0f, step = 0.0f, target = 0.0f;
    void aim(double value, std::size_t frames) noexcept {
      now = target;
      target = static_cast<float>(value);
      step = (target - now) / static_cast<float>(frames);
    }
    bool is_on() const noexcept { return now != 0.0f || target != 0.0f; }
  };
  struct Settled {  // targets of the ramps
    double wall_gain = 0.0, wall_pole = 0.5, leak = 0.0, room = 0.0, siren = 0.0, bell = 0.0;
    double fluid_low = 1.0, fluid_middle = 1.0, fluid_high = 1.0;
  };
  template <bool kFluid, bool kSirenOrBell>
  void process_with(float* samples, const float* room, std::size_t frames) noexcept;
  void settle(const Hearing& hearing, const ContactState& state) noexcept;
  void set_head(Head head, double pressure) noexcept;
  void set_noise(const Scene& scene, const ContactState& state) noexcept;
  void add_noise_to(Background& background, double wall_gain) const noexcept;

  double sample_rate_hz_;
  float bell_share_;  // of the way that the bell's resonance goes in one sample
  Settled settled_;
  ContactState settled_for_;
  // Lanes: rumble, hum of the road, talk and rattle, hiss, slide low, slide high, cloth, own noise.
  LaneBits noise_{};
  LaneFilter noise_filter_;
  Lanes level_{}, level_step_{}, level_target_{};
  std::array<double, kLanes> density_{}, noise_corner_hz_{};
  double siren_sweep_ = 0.0;
  float siren_turn_ = 0.0f;
  Ramp gain_, wall_pole_, siren_, room_;
  Ramp fluid_low_, fluid_middle_, fluid_high_, bell_;
  float wall_ = 0.0f, bell_state_ = 0.0f;
  Filter fluid_, high_pass_, low_pass_;
  float siren_turns_ = 0.0f;
  bool has_fluid_ = false;
};

}  // namespace phren::acoustics
