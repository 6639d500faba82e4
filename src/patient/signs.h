// What a person at the bedside can see, feel, tap and ask, computed from the body's state.
#pragma once

#include <array>
#include <cstdint>

#include "patient/facts.h"
#include "patient/types.h"

namespace phren::patient {

enum class Consciousness : std::uint8_t { kAlert, kVoice, kPain, kUnresponsive };
enum class Speech : std::uint8_t { kSentences, kPhrases, kWords, kNone, kTooYoung };
enum class Percussion : std::uint8_t { kResonant, kDull, kStonyDull, kHyperresonant };

struct Signs {
  double work_of_breathing = 0.0;  // 0 quiet .. 1 extreme
  double accessory_muscles = 0.0;
  double retractions = 0.0;
  double nasal_flaring = 0.0;
  double exhaustion = 0.0;
  double anxiety = 0.0;
  bool tripod = false;
  double cyanosis = 0.0;  // 0..1
  double pallor = 0.0;
  double diaphoresis = 0.0;
  double urticaria = 0.0;
  double angioedema = 0.0;
  double jugular_venous_mmHg = 2.0;
  double tracheal_deviation = 0.0;             // -1 right .. +1 left
  std::array<double, 2> chest_rise{1.0, 1.0};  // right, left; 1 = as when healthy at rest
  std::array<Percussion, exam::kNumLobes> percussion{};
  double subcutaneous_air = 0.0;
  double frothy_sputum = 0.0;
  double gurgling = 0.0;
  Consciousness consciousness = Consciousness::kAlert;
  Speech speech = Speech::kSentences;
  double capillary_refill_s = 1.5;
  std::uint64_t facts = 0;  // bit i: Fact i holds
  std::array<exam::Side, static_cast<std::size_t>(Fact::kCount)> fact_side{};

  std::array<double, 2> flail{};  // right, left: share of the wall that sinks in on inspiration
  double abdominal_paradox = 0.0;
  double pulsus_paradoxus_mmHg = 0.0;
  bool has_agonal_breaths = false;

  bool has(Fact f) const noexcept { return (facts >> static_cast<unsigned>(f)) & 1u; }
};

struct Monitor {
  double respiratory_rate_per_min = 15.0;
  double spo2_percent = 97.0;  // as the finger probe shows it, late and averaged
  double etco2_mmHg = 38.0;    // of the last breath
  double co2_mmHg = 0.0;       // at the mouth now: the capnogram
  double heart_rate_per_min = 72.0;
  double systolic_mmHg = 120.0, diastolic_mmHg = 75.0;
  double temperature_C = 37.0;
  double plateau_slope_mmHg_per_s = 1.0;  // of the last breath's second half of expiration
  bool is_capnogram_obstructive = false;  // rounded shoulder and slanting plateau
  bool has_pulse = true;
};

// The truth inside, for charts, debriefs and tests; nobody at the bedside sees it.
struct Inside {
  double pao2_mmHg = 95.0, paco2_mmHg = 40.0, sao2 = 0.97, ph = 7.4, lactate_mmol_per_L = 0.0;
  double venous_saturation = 0.75;
  double cardiac_output_L_per_min = 5.0, mean_arterial_mmHg = 90.0, wedge_mmHg = 8.0;
  double right_atrial_mmHg = 2.0;
  double end_expiratory_L = 3.0;      // gas left in the lung after the last breath
  double intrinsic_peep_cmH2O = 0.0;  // mean alveolar pressure at the end of expiration
  double tidal_L = 0.45, minute_ventilation_L = 6.5;
  double drive = 1.0, effort_cmH2O = 6.0, fatigue = 0.0;
  double shunt = 0.04;  // share of output
  double lung_water = 0.0;
  double least_pleural_cmH2O = -8.0, most_pleural_cmH2O = -5.0;  // of the last breath
  double carboxyhaemoglobin = 0.0;
  double brain_injury_min = 0.0;  // minutes without supply, or longer with part of it
  double heart_store = 1.0;       // of the heart muscle
  double stomach_L = 0.0;         // air blown in
  double arousal = 1.0;           // 0 unresponsive .. 1 alert
  double bicarbonate_mmol_per_L = 24.0;
};

}  // namespace phren::patient
