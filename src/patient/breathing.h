// Control of breathing: chemoreflexes set a drive, the drive sets rate and effort, each breath is a
// muscle pressure in time; fatigue, fear, pain, speech, coughs and breath-holds act on the same
// muscles.
//
// When the brainstem is starved the rhythm stops; after a pause gasps come, farther and farther
// apart, until their centre is spent. Late news and a high gain make the control overshoot
// (Cheyne-Stokes); a paroxysm empties the lung in one run of coughs and ends in a whoop.
//
// Units:   s, cmH2O, mmHg; drive 1 = quiet rest.
// Errors:  none; no allocation.
// Source:  muscle waveform: parabola then exponential, Albanese 2016 AJP Heart 310:H899 (from
//          memory), release time constant TE/3 after Shee 1985 JAP 58:1859; ventilation linear in
//          saturation and multiplied by CO2: Rebuck & Woodley 1975; slopes 2 L/min/mmHg and
//          1 L/min/% (from memory); split into rate and effort, load reflexes: our choice (that a
//          resistive load lengthens the breath: Milic-Emili & Zin 1986, from memory; how steeply,
//          fatigue above a tension-time index near 0.15, sustained 15 min at 0.25: Bellemare &
//          Grassino 1982 (from memory); cough by age: textbooks (from memory);
//          and that lengthening begins at twenty times the healthy resistance: our choice).
// Limits:  no sleep stages; the hypoxic decline over 25 minutes is left out.
#pragma once

#include <array>

#include "patient/config.h"
#include "patient/types.h"
#include "patient/variability.h"

namespace phren::patient {

struct BreathingParameters {
  double resting_rate_per_min = 15.0;
  double inspired_share = 0.41;
  double resting_effort_cmH2O = 6.0;  // found by Patient::calibrate()
  double strength_cmH2O = 100.0;
  double resting_tidal_L = 0.45;
  double resting_paco2_mmHg = 40.0;
  double age_years = 40.0;
};

// What the body tells the respiratory centre.
struct BreathingInput {
  double paco2_mmHg = 40.0, saturation = 0.97;
  double bicarbonate_lost = 0.0;  // below this person's usual
  double retained_co2_mmHg = 0.0;
  double irritation = 0.0, depression = 0.0, anxiety = 0.0, pain = 0.0, fever_C = 0.0;
  double weakness = 0.0, coughing = 0.0;
  bool is_assisted = false;    // a machine does the work: nothing to compensate
  double muscle_length = 1.0;  // share of strength left at this lung volume
  double stiffness = 1.0;      // lung and wall elastance / normal
  double resistance = 1.0;     // of the airways below the windpipe / normal
  double arousal = 1.0;        // 0 unconscious .. 1 alert
  double brainstem = 1.0;      // 0 = no rhythm
  double gasping = 1.0;        // what is left of the gasping centre, used when there is no rhythm
  double muscle_supply = 1.0;  // oxygen, pH and flow of the breathing muscles
  double periodic = 0.0, apnoeas = 0.0, paroxysms = 0.0, willed = 0.0;
  double news_s = 0.0;  // from lung to brain, beyond the usual
};

class Breathing {
 public:
  explicit Breathing(const BreathingParameters& parameters) noexcept;

  void update_drive(const BreathingInput& input, double dt_s) noexcept;
  // Starts the next breath when it is due; true if it did. `expired_L_per_s` is expiratory flow
  // now.
  bool advance(double time_s, double lung_L, double expired_L_per_s) noexcept;
  double muscle_cmH2O(double time_s) const noexcept;  // inspiratory positive
  double glottis_brake_cmH2O_s_per_L(double time_s) const noexcept;
  void request(Manoeuvre manoeuvre, double duration_s) noexcept;  // from the next breath on
  void tire_by(double share) noexcept { fatigue_ += share * (0.92 - fatigue_) * (fatigue_ < 0.92); }
  void cancel() noexcept { request(Manoeuvre::kTidal, 0.0); }

  Voice voice(double time_s) const noexcept;
  bool is_inspiring(double time_s) const noexcept { return time_s - start_s_ < ti_s_; }
  Manoeuvre manoeuvre() const noexcept { return now_; }
  bool is_whooping(double time_s) const noexcept {
    return now_ == Manoeuvre::kWhoop && is_inspiring(time_s);
  }
  double drive() const noexcept { return drive_; }
  double bicarbonate_lost() const noexcept { return in_.bicarbonate_lost; }  // mmol/L
  double effort_cmH2O() const noexcept { return amplitude_; }
  double fatigue() const noexcept { return fatigue_; }
  double rate_per_min() const noexcept { return breath_s_ > 0.0 ? 60.0 / breath_s_ : 0.0; }
  double tidal_L() const noexcept { return tidal_L_; }  // of the last whole breath
  std::uint64_t breath_count() const noexcept { return breaths_; }
  double breath_start_s() const noexcept { return start_s_; }
  double inspiration_s() const noexcept { return ti_s_; }
  double expiration_s() const noexcept { return te_s_; }  // planned
  double most_effort_cmH2O() const noexcept;

  Variability& variability() noexcept { return variability_; }
  BreathingParameters& parameters() noexcept { return p_; }
  const BreathingParameters& parameters() const noexcept { return p_; }

 private:
  // One cough: closed for a moment, then a burst; times by age.
  struct CoughTimes {
    double in_s, shut_s, burst_s;
    double cycle_s() const noexcept { return shut_s + burst_s; }
  };
  CoughTimes cough_times() const noexcept;
  int coughs() const noexcept { return now_ == Manoeuvre::kParoxysm ? 7 : 2; }
  // Where in its cycle the cough is; below 0 when the last is over.
  double in_cough_s(double late_s) const noexcept;
  double chemical_drive() const noexcept;
  void tire(double dt_s) noexcept;
  void choose_manoeuvre(double time_s) noexcept;
  void shape_manoeuvre(double drive, double& effort) noexcept;
  void plan_breath(double time_s) noexcept;
  bool gasp(double time_s, double lung_L) noexcept;

  BreathingParameters p_;
  Variability variability_;
  BreathingInput in_;
  double central_mmHg_ = 40.0, peripheral_mmHg_ = 40.0, peripheral_saturation_ = 0.97;
  std::array<double, 64> news_mmHg_{};  // PaCO2, once a second
  std::array<double, 64> news_saturation_{};
  std::uint32_t news_at_ = 0, updates_ = 0;
  double drive_ = 1.0, fatigue_ = 0.0, load_gain_ = 1.0;
  double start_s_ = 0.0, ti_s_ = 1.6, te_s_ = 2.4, breath_s_ = 4.0;
  double amplitude_ = 0.0, expiratory_ = 0.0;
  double low_L_ = 0.0, high_L_ = 0.0, tidal_L_ = 0.45, wanted_L_ = 0.45;
  double manoeuvre_until_s_ = -1.0, manoeuvre_for_s_ = 0.0, next_cough_s_ = 20.0;
  double next_sigh_s_ = 150.0, next_pause_s_ = 40.0, next_paroxysm_s_ = 45.0;
  bool has_request_ = false, seen_any_ = false;
  Manoeuvre requested_ = Manoeuvre::kTidal, now_ = Manoeuvre::kTidal;
  std::uint64_t breaths_ = 0;
};

}  // namespace phren::patient
