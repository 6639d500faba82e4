// The circulation as four compartments driven by the pressure in the chest, and a heart that lives
// on what it pumps.
//
// Veins, right atrium, lung veins with left atrium, arteries; two ventricles with Starling curves
// and afterload; a baroreflex on rate, tone and strength. Blood lost from one compartment is in
// another, so venous return, tension physiology, tamponade, posture and the oedema loop follow from
// the pressures. The heart muscle burns a store that coronary blood refills; without it strength
// and rate fall, and with them the coronary flow: pulseless activity, then standstill. Compressions
// move blood without it and may refill it. Flows are beat averages; beats are timed for the sounds.
//
// Units:   L, L/s, mmHg, s; scaled by weight through the resting state, which is that of sitting.
// Errors:  none; no allocation.
// Source:  venous return (Pmsf - Pra)/Rvr with teaching normals 7-8, 2 mmHg (Guyton, from memory);
//          heart rate +0.98 per 1 % desaturation: Slutsky & Rebuck 1978; greatest rate 208 - 0.7
//          age: Tanaka 2001; strength against pH and hypoxia together: fitted to cat, rabbit and
//          human muscle (see docs/validation/patient.md), sizes our choice; store empty to half in
//          some minutes without flow: Harris & Kudenchuk 2018; pericardium: our choice; reflex
//          gains and curves: our choice.
// Limits:  no pulse wave, no fibrillation.
#pragma once

#include <cstdint>

namespace phren::patient {

struct CirculationParameters {
  double weight_kg = 65.0;
  double resting_rate_per_min = 72.0;
  double resting_output_L_per_s = 0.083;
  double systolic_mmHg = 120.0, diastolic_mmHg = 75.0;
  double blood_L = 4.6;
  double greatest_rate_per_min = 184.0;
  double sinus_arrhythmia_per_min = 8.0;  // swing with a resting breath at 12 a minute
  double apnoea_slowing = 0.35;           // chemoreceptor slowing while no breath masks it, 0..1
};

// What the rest of the body asks of the circulation, refreshed once a second or sixteen times.
struct CirculationDemand {
  double chest_pressure_mmHg = -4.0;    // mean pleural pressure around the heart
  double lung_vessel_resistance = 1.0;  // x normal: hypoxia, emboli, overstretched lung
  double great_vein_kink = 0.0;         // mediastinal shift, 0..1
  double vasodilation = 0.0;            // 0..1
  double vasoconstriction = 0.0;
  double weakness = 0.0;  // left ventricle
  double stronger = 0.0;
  double surge = 0.0;               // sympathetic drive beyond the reflex
  double added_rate_per_min = 0.0;  // fever, pain, fear, drugs
  double saturation = 0.97;         // arterial, 0..1, as the carotid body sees it
  double oxygen_deficit = 0.0;
  double paco2_mmHg = 40.0;
  double plasma_leak_L_per_s = 0.0;
  double carried = 0.97;  // oxygen carried by haemoglobin, share of all of it
  double ph = 7.4;
  double brainstem = 1.0;  // reflexes need it
  double pooled_L = 0.0;   // blood in legs and belly beyond sitting; below 0: in the chest
  double pericardial_mmHg = 0.0;
  double compressions = 0.0;  // 0..1, as good as a hand does them
  double breath_mmHg = 0.0;   // pleural pressure now against its mean
  double inflation = 0.0;     // breath now, in resting breaths, against its mean
  double breaths_per_min = 15.0;
  double apnoea_s = 0.0;  // since the last breath that moved air should have been followed by one
};

class Circulation {
 public:
  explicit Circulation(const CirculationParameters& parameters) noexcept;

  void step(const CirculationDemand& demand, double dt_s) noexcept;
  void bleed(double volume_L) noexcept;     // positive: lost from the veins
  bool advance_beat(double dt_s) noexcept;  // true when a beat begins

  double output_L_per_s() const noexcept { return left_; }
  double lung_flow_L_per_s() const noexcept { return right_; }
  double mean_arterial_mmHg() const noexcept { return map_; }
  double systolic_mmHg() const noexcept;  // of the beat now: it swings with the breath
  double diastolic_mmHg() const noexcept;
  // Swing of systolic pressure for a pleural swing and pressure in the pericardium.
  double paradoxus_mmHg(double pleural_swing_mmHg, double pericardial_mmHg) const noexcept;
  double right_atrial_mmHg() const noexcept { return pra_; }
  double jugular_mmHg() const noexcept { return jugular_; }  // in the neck, above any kink
  double wedge_mmHg() const noexcept { return wedge_; }      // against the pleura
  double lung_artery_mmHg() const noexcept { return mpap_; }
  double rate_per_min() const noexcept { return rate_ > 0.0 ? rate_ + sinus_ : 0.0; }  // electrical
  double stroke_volume_L() const noexcept;
  double resting_stroke_L() const noexcept { return stroke0_; }
  double resting_pressure_mmHg() const noexcept { return map0_; }
  double sympathetic() const noexcept { return sympathetic_; }
  double resistance_ratio() const noexcept { return resistance_ / resistance0_; }
  double blood_L() const noexcept { return veins_ + atrium_ + lung_veins_ + arteries_ + lost_; }
  double lost_L() const noexcept { return lost_; }
  bool is_arrested() const noexcept { return arrested_; }  // no pulse for some seconds
  double heart_store() const noexcept { return store_; }   // of the heart muscle, 1 full
  double heart_injury_min() const noexcept { return injury_min_; }
  std::uint64_t beat_count() const noexcept { return beats_; }
  double since_beat_s() const noexcept { return since_beat_; }

 private:
  void reflexes(const CirculationDemand& demand, double dt_s) noexcept;
  void muscle(const CirculationDemand& demand, double dt_s) noexcept;
  void heart(const CirculationDemand& demand) noexcept;
  void vessels(const CirculationDemand& demand, double dt_s) noexcept;

  CirculationParameters p_;
  // fixed by the resting state
  double stroke0_, map0_, pulse0_, resistance0_, venous_resistance_, lung_resistance0_;
  double arteries_compliance_, veins_compliance_, atrium_compliance_, lung_compliance_;
  double veins_unstressed_;
  // state
  double veins_ = 0.0, atrium_ = 0.0, lung_veins_ = 0.0, arteries_ = 0.0, lost_ = 0.0;
  double sympathetic_ = 0.0, vagal_ = 0.0;
  double store_ = 1.0, node_ = 1.0, still_ = 1.0, injury_min_ = 0.0, pooled_ = 0.0;
  double left_ = 0.0, right_ = 0.0, map_ = 0.0, pra_ = 0.0, wedge_ = 0.0, mpap_ = 0.0;
  double jugular_ = 2.0;
  double lung_drop_ = 0.0;  // pressure along the lung vessels
  double resistance_ = 1.0, rate_ = 72.0, sinus_ = 0.0, breath_swing_ = 0.0;
  double low_pressure_s_ = 0.0, since_beat_ = 0.0, beat_phase_ = 0.0, pushed_ = 0.0;
  std::uint64_t beats_ = 0;
  bool arrested_ = false;
};

}  // namespace phren::patient
