// Wheeze, rhonchus, stridor, squawk and grunt: what sings, when, how high and how loud.
//
// Wheeze:   an airway sings when flow through it is limited, some 107 mL after limitation began, if
//           it is flattened or narrowed and gas still moves fast enough through the gap. A sound
//           airway is held open: only hard breathing out, as in a forced breath or a cough, flattens
//           it; a small or crowded lung whose flow is limited does not sing for that alone. Pitch
//           follows speed over half-gap. Disease
//           narrows airways unevenly, so some reach their limit while the lobe as a whole does not;
//           in very narrow ones gas is fast enough to sing on the way in as well. A film of mucus
//           thick for the airway's radius bridges it, and a shut airway does not sing.
// Rhonchus: a mucus film in a wide airway, rapidly damped waves below 300 Hz; another pattern after
//           each cough; silent where the film bridges the airway, which takes more than in a narrow
//           one.
// Stridor:  the jet through a narrow larynx; pitch by a Strouhal number, louder with the square of
//           speed.
// Squawk:   a stiff small airway that opens late in inspiration and sings for about 70 ms.
// Source:   f = 228 + 0.021 u/b Hz, and no sound from a tube that is not both buckled and
//           flow-limited (Gavriely 1989); what flattens a sound airway: ENGINEERING; 107 +- 45 mL (Gavriely 1987); rhonchus by CORSA
//           gates; squawk 67.5 ms, 530 Hz (Jpn J Thorac Dis 1987); that a film bridges beyond some
//           thickness over radius: Gauglitz & Radke 1988 (from memory), thresholds and unevenness
//           set so that wheeze begins where Spence 1992 has it. Other levels and the Strouhal
//           number: ENGINEERING.
// Errors:   none; nothing allocates.
#pragma once

#include "acoustics/tones.h"
#include "base/random.h"

namespace phren::acoustics {

// Pitch of a wheeze in Hz from gas speed in the narrowest part and half the height of the gap.
double wheeze_pitch_hz(double speed_m_per_s, double half_gap_mm) noexcept;

class MusicalSounds {
 public:
  MusicalSounds(Seed seed, const BodyScale& scale) noexcept;
  void update(const Scene& scene) noexcept;
  void process(Lanes* out, std::size_t frames) noexcept;
  std::size_t active_groups() const noexcept;
  void finish(TruthRing& truth) noexcept;
  // Starts the squawk of a lobe; called when a stiff airway pops open.
  void squawk(std::size_t lobe, double pitch_hz, double length_s) noexcept;

 private:
  static constexpr std::size_t kPerLobe = 3;
  static constexpr std::size_t kGroups = 3;
  static constexpr std::size_t kSquawk = 15, kFirstRhonchus = 16, kStridor = 21, kGrunt = 23;
  struct Wheezer {
    double onset_mL = 107.0;  // breathed out at the mouth since its limitation began
    double unevenness = 2.0;  // how much harder disease hits it than its lobe
    double gap_ratio = 1.0;   // its half-gap against the lobe's
    double loudness = 1.0;
    double plug = 0.8;     // film of mucus over radius at which it bridges and shuts
    double sung_mL = 0.0;  // breathed out since its limitation began in this breath
    double level = 0.0, drift = 0.0;
  };
  struct Rhonchus {
    double pitch_hz = 130.0, loudness = 1.0, threshold = 0.2, from_s = 0.0, level = 0.0;
  };
  void update_wheezes(const Scene& scene) noexcept;
  double wheeze_drive(const Scene& scene, const patient::LobeState& lobe, Wheezer& w) noexcept;
  void update_rhonchi(const Scene& scene) noexcept;
  void update_larynx(const Scene& scene) noexcept;
  void update_squawk(const Scene& scene) noexcept;
  void lay_mucus(double after_cough) noexcept;
  void sing(const Scene& scene, std::size_t index, const ToneLanes::Target& source,
            std::size_t lobe, exam::Sound sound) noexcept;

  struct Shares {  // of the way that levels and pitches go in one chunk
    double step_s = 0.0, attack = 1.0, slow = 1.0, drift = 1.0, flutter = 0.0;
  };

  RandomStream flutter_;
  RandomStream mucus_;
  BodyScale scale_;
  Shares share_;
  std::array<std::array<Wheezer, kPerLobe>, exam::kNumLobes> wheezers_;
  std::array<Rhonchus, exam::kNumLobes> rhonchi_;
  std::array<ToneLanes, kGroups> lanes_;
  std::array<TonalTrack, kGroups * kLanes> tracks_;
  std::array<double, 2> stridor_drift_{};
  double stridor_level_ = 0.0, grunt_level_ = 0.0;
  double squawk_left_s_ = 0.0, squawk_length_s_ = 0.0, squawk_pitch_hz_ = 530.0;
  std::size_t squawk_lobe_ = 0;
  bool coughing_ = false;
};

}  // namespace phren::acoustics
