// What a patient is at one instant, as plain data: the only thing other rooms see of the model.
//
// Units: in the names. Flow into the lung is positive. Fractions run 0..1 unless said otherwise.
#pragma once

#include <array>
#include <cstdint>

#include "exam/types.h"

namespace phren::patient {

enum class Sex { kFemale, kMale };

struct Person {
  double age_years = 40.0;
  Sex sex = Sex::kFemale;
  double height_cm = 165.0;
  double weight_kg = 65.0;
  double muscle = 0.3;  // 0 slight .. 1 very muscular
  // Tissue between lung and skin, from weight, height and muscle.
  double wall_front_cm = 2.0;
  double wall_side_cm = 2.0;
  double wall_back_cm = 3.0;
  double half_chest_breadth_cm = 14.0;
  double chest_depth_cm = 24.0;
  double lung_height_cm = 24.0;
};

// Small airways that shut in expiration and pop open in inspiration, each at its own lung volume.
struct ReopeningAirways {
  double fine_count = 0.0;  // in the whole lobe, per breath that crosses their volume
  double coarse_count = 0.0;
  double opening_mean = 0.6;  // place in the breath (breath_fraction) at which they open
  double opening_sd = 0.15;
};

struct LobeState {
  double flow_L_per_s = 0.0;
  double volume_L = 0.0;         // gas in the lobe
  double volume_fraction = 0.3;  // 0 at this lobe's residual volume, 1 at its total capacity
  double inflation = 0.48;       // gas as a share of what the lobe holds at most
  double breath_fraction = 0.0;  // 0 at the start of this inspiration's volume, 1 at its top
  double alveolar_pressure_cmH2O = 0.0;
  double pleural_pressure_cmH2O = -5.0;
  double airway_radius_ratio = 1.0;  // 1 = this person's healthy size
  double resistance_cmH2O_s_per_L = 0.0;
  // Expiratory (or, rarely, inspiratory) flow limitation: 0 free .. 1 fully limited.
  double flow_limitation = 0.0;
  double choke_speed_m_per_s = 0.0;  // gas speed in the narrowest part
  double choke_half_gap_mm = 1.0;    // half height of the slit there; wheeze pitch goes with u/b
  double limited_volume_mL = 0.0;    // breathed out since limitation began in this breath
  double secretions = 0.0;           // mucus in the airways of the lobe
  double consolidation = 0.0;        // share of the lobe without gas but with open bronchi
  double lung_water = 0.0;           // interstitial and alveolar oedema
  double fibrosis = 0.0;
  double emphysema = 0.0;
  double bronchus_narrowing = 0.0;  // by what lies in it or presses on it: 0 open .. 1 shut
  bool bronchus_blocked = false;
  // What flattens the lobe's large airways: pressure around them less that at the carina.
  double squeeze_cmH2O = -5.0;
  ReopeningAirways reopening;
};

struct PleuraState {  // one side
  double gas_L = 0.0;
  double fluid_L = 0.0;
  double friction = 0.0;  // inflamed surfaces rubbing
  double pressure_cmH2O = -5.0;
  double air_under_skin =
      0.0;  // 0..1: gas in the tissue over this side, which crackles when pressed
};

struct UpperAirwayState {
  double flow_L_per_s = 0.0;
  double area_mm2 = 150.0;         // narrowest, at this instant
  double jet_speed_m_per_s = 0.0;  // in the narrowest part
  double pressure_drop_cmH2O = 0.0;
  double narrowing = 0.0;      // 0 none .. 1 shut
  bool intrathoracic = false;  // narrowing below the thoracic inlet (worse in expiration)
  double secretions = 0.0;     // gurgling
  double grunting = 0.0;       // expiratory glottic braking
};

enum class Voice { kNone, kVowel, kSpeech, kCough, kBreathHold };

struct HeartState {
  double rate_per_min = 75.0;
  std::uint64_t beat_count = 0;
  double since_beat_s = 0.0;  // since the last first heart sound
  double systole_s = 0.3;
  double loudness = 1.0;     // 1 = resting, falls with stroke volume
  double third_sound = 0.0;  // gallop
};

struct Snapshot {
  double time_s = 0.0;
  exam::Phase phase = exam::Phase::kPause;
  std::uint64_t breath_count = 0;
  double since_phase_s = 0.0;
  double trachea_flow_L_per_s = 0.0;
  double muscle_pressure_cmH2O = 0.0;  // inspiratory effort positive
  double total_volume_L = 0.0;
  std::array<LobeState, exam::kNumLobes> lobe{};
  std::array<PleuraState, 2> pleura{};  // indexed by exam::Side: right, left
  UpperAirwayState upper_airway;
  HeartState heart;
  Voice voice = Voice::kNone;
};

}  // namespace phren::patient
