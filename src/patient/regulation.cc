// The patient sixteen times a second and once a second: blood, lung water, reflexes, what the body
// asks of the circulation, tissue, mind and the oximeter.
#include "base/det_math.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kFilterThreshold_mmHg = 24.0;  // lung capillary pressure that floods, transmural

double clamp(double x, double low, double high) noexcept {
  return x < low ? low : x > high ? high : x;
}

// Tone that a relaxed wall loses: 13 in the newborn, 8 from 3 years, 1.2 in adults (our choice, so
// that apnoea times by age come out).
double relaxed_load_cmH2O(double age) noexcept {
  if (age < 3.0) return 13.0 - 5.0 * age / 3.0;
  return age < 10.0 ? 8.0 : age < 20.0 ? 8.0 - 0.68 * (age - 10.0) : 1.2;
}

}  // namespace

void Patient::update_body() noexcept {
  const Load& load = course_.load();
  // Airway pressure reopens flooded units over minutes and loses them as slowly.
  std::array<double, kLobes> felt = water_;
  for (double& w : felt) w *= 1.0 - 0.05 * recruited_cmH2O_;
  body_ = body_of(person_, reference_, posture_, load, felt);
  const double brake = mechanics_.parameters().upper.glottis_brake_cmH2O_s_per_L;
  // A relaxed chest wall rests lower, most of all in infants, who hold their volume actively.
  if (is_paralysed_) {
    body_.mechanics.wall_load_cmH2O += relaxed_load_cmH2O(person_.age_years);
  }
  mechanics_.parameters() = body_.mechanics;
  mechanics_.parameters().upper.glottis_brake_cmH2O_s_per_L = brake;
}

void Patient::slow_step() noexcept {
  const Load& load = course_.load();
  const std::array<double, kLobes> lost =
      gas_.exchange(mechanics_.state(), blood_, circulation_.lung_flow_L_per_s(), kSlow_s);
  for (std::size_t i = 0; i < kLobes; ++i) mechanics_.state().volume_L[i] -= lost[i];
  gas_.set_lung_gas(mechanics_.state());

  BreathingInput in;
  in.paco2_mmHg = gas_.paco2_mmHg();
  in.saturation = gas_.sao2();
  in.bicarbonate = gas_.base_bicarbonate();
  in.retained_co2_mmHg = load.of_body(kRetainedCo2_mmHg);
  in.irritation = irritation_;
  in.depression = load.of_body(kRespiratoryDepression);
  in.anxiety = load.of_body(kAnxiety);
  in.pain = load.of_body(kPain);
  in.fever_C = load.of_body(kFever_C);
  in.weakness = load.of_body(kMuscleWeakness);
  in.coughing = load.of_body(kCoughing);
  in.is_assisted = load.of_body(kAssistedVolume) > 0.3;
  const MechanicsState& chest = mechanics_.state();
  in.muscle_length = mechanics_.muscle_length_factor(
      mechanics_.gas_L() + (chest.pleural_gas_L[0] + mechanics_.parameters().side[0].fluid_L +
                            chest.pleural_gas_L[1] + mechanics_.parameters().side[1].fluid_L));
  in.stiffness = stiffness_;
  in.resistance = resistance_;
  in.arousal = arousal_;
  in.brainstem = brainstem_;
  breathing_.update_drive(in, kSlow_s);

  CirculationDemand d = demand_;
  d.chest_pressure_mmHg = -4.0 + (mean_pleural_cmH2O_ - rest_pleural_cmH2O_) / 1.3595;
  d.saturation = gas_.sao2();
  d.oxygen_deficit = gas_.oxygen_deficit();
  d.paco2_mmHg = gas_.paco2_mmHg();
  circulation_.step(d, kSlow_s);
}

void Patient::update_water(double dt) noexcept {
  const Load& load = course_.load();
  const double push = circulation_.wedge_mmHg() - kFilterThreshold_mmHg;
  const double leak = load.of_body(kCapillaryLeak);
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double basal = i == 2 || i == 4 ? 1.25 : 0.75;
    const double in = (push > 0.0 ? 0.0032 * push : 0.0) / 60.0 * basal + 0.008 / 60.0 * leak;
    const double room = 0.9 - water_[i];
    const double out = push > 0.0 ? 0.0 : water_[i] / 1500.0;
    water_[i] = clamp(water_[i] + dt * (in * (room > 0.0 ? room : 0.0) - out), 0.0, 0.9);
  }
}

void Patient::second_step() noexcept {
  const double t = time_s();
  course_.update(t, kSecond_s);
  const Load& load = course_.load();
  update_water(kSecond_s);
  const double pressure = load.of_body(kAirwayPressure_cmH2O) +
                          (load.of_body(kAssistedVolume) > 0.3 ? 5.0 : 0.0) + 3.0 * grunt_;
  recruited_cmH2O_ += (pressure - recruited_cmH2O_) * kSecond_s / 390.0;
  update_body();
  blood_ = lung_blood_of(reference_, load, water_, mechanics_, gas_);
  gas_.set_unperfused(blood_.unperfused);

  update_reflexes();
  update_demand();
  update_tissue();
  update_oximeter();
}

// Reflexes of the lung that need a slower look: stiffness, irritation, an infant's grunt.
void Patient::update_reflexes() noexcept {
  const Load& load = course_.load();
  double block = 0.0, airless = 0.0, slope = 0.0, narrow = 0.0, wide = 0.0;
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double radius = body_.shape[i].radius_ratio;
    narrow += kLobeShare[i] * (1.0 - radius);
    wide += kLobeShare[i] * radius * radius * radius * radius;
    block += kLobeShare[i] * load.at_lobe(kPerfusionBlock, i);
    airless += kLobeShare[i] * (load.at_lobe(kConsolidation, i) + load.at_lobe(kCollapse, i));
    slope += 1.0 / mechanics_.recoil_slope_cmH2O_per_L(i, mechanics_.state().volume_L[i]);
  }
  const double wall = 1.0 / reference_.chest_wall_compliance_L_per_cmH2O;
  const double healthy =
      wall + 2.0 * 0.95 * reference_.lung_recoil_cmH2O / (reference_.frc_L - 0.5 * reference_.rv_L);
  stiffness_ = clamp((wall + 1.0 / slope) / healthy, 0.7, 6.0);
  resistance_ = 1.0 / (wide > 0.005 ? wide : 0.005);
  const double gas_ratio = mechanics_.gas_L() / reference_.frc_L;
  irritation_ =
      1.0 -
      (1.0 - load.of_body(kLungIrritation)) * (1.0 - clamp(1.3 * body_.lung_water_mean, 0.0, 0.8)) *
          (1.0 - clamp(0.4 * block, 0.0, 1.0)) * (1.0 - clamp(0.7 * narrow, 0.0, 0.5)) *
          (1.0 - clamp(0.8 * (0.9 - gas_ratio), 0.0, 0.6)) * (1.0 - clamp(0.5 * airless, 0.0, 1.0));
  const bool infant = person_.age_years < 2.0;
  const double need = clamp((0.95 - gas_.sao2()) * 8.0, 0.0, 1.0) *
                      clamp(airless + body_.lung_water_mean, 0.0, 0.6) / 0.6;
  grunt_ += ((infant && arousal_ > 0.4 ? need : 0.2 * need) - grunt_) * 0.05;
  grunt_brake_ = 0.6 * reference_.resistance_cmH2O_s_per_L;
}

// What lung, chest, mind and drugs ask of the circulation.
void Patient::update_demand() noexcept {
  const Load& load = course_.load();
  const double gas_ratio = mechanics_.gas_L() / reference_.frc_L;
  demand_ = CirculationDemand{};
  const double vessels = clamp(1.0 * blood_.conductance, 0.05, 1.0);
  demand_.lung_vessel_resistance = 1.0 / (vessels * vessels) *
                                   (1.0 + 1.0 * clamp(gas_ratio - 1.5, 0.0, 1.5)) *
                                   (1.0 + 0.8 * load.mean_of_lobes(kFibrosis));
  const double shift = mean_shift_L_ / (0.08 * reference_.frc_L);
  demand_.great_vein_kink = clamp((shift < 0.0 ? -shift : shift) - 0.5, 0.0, 1.5);
  demand_.vasodilation = load.of_body(kVasodilation);
  demand_.vasoconstriction = load.of_body(kVasoconstriction);
  demand_.weakness = load.of_body(kHeartWeakness);
  demand_.stronger = load.of_body(kStrongerHeart);
  const double effort_alarm = clamp((breathing_.drive() - 3.0) / 10.0, 0.0, 0.5);
  const double surge = load.of_body(kSympatheticSurge);
  demand_.surge =
      0.9 * surge + (0.3 + 0.7 * surge) * effort_alarm * arousal_ + 0.25 * load.of_body(kAnxiety);
  const double strain = added_effort();
  const double scale = det::sqrt(reference_.heart_rate_per_min / 72.0);
  demand_.added_rate_per_min =
      scale * (9.0 * clamp(temperature_C_ - 37.0, -3.0, 4.0) + 28.0 * load.of_body(kAnxiety) +
               10.0 * load.of_body(kPain) + 5.5 * clamp(strain, 0.0, 7.0)) +
      load.of_body(kMoreHeartBeats_per_min);
  demand_.plasma_leak_L_per_s = 0.0018 * person_.weight_kg / 70.0 * load.of_body(kCapillaryLeak);
  const double loss = load.of_body(kBloodLoss_L) * reference_.ideal_weight_kg / 65.0;
  if (loss != bled_L_) {
    const double most = 0.01 * reference_.ideal_weight_kg / 65.0;
    const double now = clamp(loss - bled_L_, -most, most);
    circulation_.bleed(now);
    bled_L_ += now;
  }
}

// Tissue's needs, warmth, the mind and the brainstem.
void Patient::update_tissue() noexcept {
  const Load& load = course_.load();
  const double strain = added_effort();
  gas_.parameters().oxygen_use_mL_per_s = reference_.oxygen_use_mL_per_min / 60.0 *
                                          (1.0 + 0.1 * clamp(temperature_C_ - 37.0, -3.0, 4.0)) *
                                          (1.0 + 0.045 * clamp(strain, 0.0, 10.0)) *
                                          (0.5 + 0.5 * brainstem_);
  gas_.parameters().base_bicarbonate_mmol_per_L =
      24.0 - load.of_body(kAcid_mmol_per_L) + 0.35 * load.of_body(kRetainedCo2_mmHg);
  temperature_C_ += (37.0 + load.of_body(kFever_C) - temperature_C_) * 0.02;
  const double low_flow = circulation_.mean_arterial_mmHg() / (0.6 * reference_.diastolic_mmHg);
  const double awake =
      clamp((gas_.sao2() - 0.45) / 0.25, 0.0, 1.0) * clamp(low_flow - 0.4, 0.0, 1.0) *
      clamp(1.0 - (gas_.paco2_mmHg() - 40.0 - load.of_body(kRetainedCo2_mmHg) - 25.0) / 50.0, 0.0,
            1.0) *
      (1.0 - 0.9 * load.of_body(kRespiratoryDepression));
  arousal_ += (clamp(awake, 0.0, 1.0) - arousal_) * 0.06;
  const double alive = circulation_.is_arrested() ? 0.0
                                                  : clamp((gas_.sao2() - 0.18) / 0.2, 0.0, 1.0) *
                                                        clamp((low_flow - 0.15) / 0.4, 0.0, 1.0);
  brainstem_ += (alive - brainstem_) * (alive < brainstem_ ? 0.015 : 0.05);
}

void Patient::update_oximeter() noexcept {
  ring_at_ = (ring_at_ + 1u) % 64u;
  saturation_ring_[ring_at_] = gas_.sao2();
  // A finger sees the blood late, later when vessels are tight; the display averages 4 s.
  const double tight = clamp(circulation_.sympathetic(), 0.0, 1.0);
  const double transit = (person_.age_years < 2.0 ? 8.0 : 14.0) + 12.0 * tight;
  double sum = 0.0;
  for (std::uint32_t k = 0; k < 4; ++k) {
    const auto back = static_cast<std::uint32_t>(transit) + k;
    sum += saturation_ring_[(ring_at_ + 64u - back) % 64u];
  }
  spo2_ = 100.0 * sum / 4.0;
}

}  // namespace phren::patient
