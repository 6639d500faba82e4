// The patient sixteen times a second and once a second: blood, lung water, reflexes, what the body
// asks of the circulation, tissue, mind and the oximeter.
#include "base/det_math.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kMostKink = 1.6;
constexpr double kReopens_per_cmH2O = 0.037;
constexpr double kMostCreep = 14.0, kCreep_per_s = 0.001, kGivesWay_s = 740.0;
constexpr double kWallCreep = 0.00003;          // L/s per cmH2O of a lasting push, adult
constexpr double kFilterThreshold_mmHg = 24.0;  // lung capillary pressure that floods, transmural

using det::clamp;

// Tone that a relaxed wall loses: 13 in the newborn, 8 from 3 years, 1.2 in adults (our choice, so
// that apnoea times by age come out).
double relaxed_load_cmH2O(double age) noexcept {
  if (age < 3.0) return 13.0 - 5.0 * age / 3.0;
  return age < 10.0 ? 8.0 : age < 20.0 ? 8.0 - 0.68 * (age - 10.0) : 1.2;
}

}  // namespace

// Airway pressure reopens flooded units over minutes and loses them as slowly.
std::array<double, kLobes> Patient::felt_water() const noexcept {
  std::array<double, kLobes> felt = water_;
  for (double& w : felt) w *= 1.0 - kReopens_per_cmH2O * recruited_cmH2O_;
  return felt;
}

void Patient::update_body() noexcept {
  const Load& load = course_.load();
  const double brake = mechanics_.parameters().upper.glottis_brake_cmH2O_s_per_L;
  body_ = body_of(person_, reference_, posture_, load, felt_water());
  // A relaxed chest wall rests lower, most of all in infants, who hold their volume actively.
  if (is_paralysed_) {
    body_.mechanics.wall_load_cmH2O += relaxed_load_cmH2O(person_.age_years);
  }
  // A blown-up stomach lifts the diaphragm: 10-15 % of compliance per litre in adults (from memory).
  const double size = reference_.frc_L / 3.0;
  body_.mechanics.wall_load_cmH2O += 2.5 * clamp(stomach_L_ / size, 0.0, 4.0);
  for (SideParameters& side : body_.mechanics.side) {
    side.wall_compliance_L_per_cmH2O /= 1.0 + 0.25 * clamp(stomach_L_ / size, 0.0, 4.0);
  }
  body_.mechanics.mediastinum_L_per_cmH2O *= 1.0 + creep_;
  for (std::size_t k = 0; k < 2; ++k) body_.mechanics.side[k].wall_rest_L += wall_creep_L_[k];
  mechanics_.parameters() = body_.mechanics;
  mechanics_.parameters().upper.glottis_brake_cmH2O_s_per_L = brake;
}

// Blood that gravity takes to legs and belly, beyond what it takes in a sitting person; the swing
// between lying and standing is about half a litre (PMC3522867).
double Patient::pooled_L() const noexcept {
  const double height = person_.height_cm / 170.0;
  // Small bodies hold less and stand lower: with their blood, an infant's half of that (our choice).
  const double blood = reference_.blood_L_per_kg * person_.weight_kg / 5.0;
  const double least = height * height < blood ? height * height : blood;
  const double tall = least * (person_.age_years < 2.0 ? 0.5 : 1.0);
  switch (posture_) {
    case Posture::kSitting:
      return 0.0;
    case Posture::kReclined:
      return -0.22 * tall;
    case Posture::kLegsRaised:
      return -1.03 * tall;
    case Posture::kLying:
    case Posture::kRightSide:
    case Posture::kLeftSide:
      break;
  }
  return -0.85 * tall;
}

void Patient::slow_step() noexcept {
  const std::array<double, kLobes> lost =
      gas_.exchange(mechanics_.state(), blood_, circulation_.lung_flow_L_per_s(), kSlow_s);
  for (std::size_t i = 0; i < kLobes; ++i) mechanics_.state().volume_L[i] -= lost[i];
  gas_.set_lung_gas(mechanics_.state());
  update_breathing();
  update_circulation();
}

void Patient::update_breathing() noexcept {
  const Load& load = course_.load();
  BreathingInput in;
  in.paco2_mmHg = gas_.paco2_mmHg();
  in.saturation = gas_.sao2();  // the carotid body sees pressure: carbon monoxide does not wake it
  in.retained_co2_mmHg = load.of_body(kRetainedCo2_mmHg);
  in.bicarbonate_lost = gas_.parameters().base_bicarbonate_mmol_per_L +
                        load.of_body(kAcid_mmol_per_L) - gas_.base_bicarbonate();
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
  in.gasping = gasping_;
  // Muscles tire sooner without oxygen, in acid and without flow.
  const double output =
      circulation_.output_L_per_s() / (reference_.cardiac_output_L_per_min / 60.0);
  in.muscle_supply = clamp((gas_.carried() - 0.30) / 0.5, 0.0, 1.0) *
                     clamp((gas_.ph() - 6.75) / 0.45, 0.0, 1.0) * clamp(output / 0.6, 0.0, 1.0);
  in.periodic = load.of_body(kPeriodicBreathing) * (is_paralysed_ ? 0.0 : 1.0);
  in.apnoeas = load.of_body(kApnoeas);
  in.paroxysms = load.of_body(kParoxysms);
  in.willed = load.of_body(kWilledBreathing);
  in.news_s = in.periodic * (person_.age_years < 1.0 ? 4.0 : 14.0) / clamp(output, 0.35, 1.5);
  breathing_.update_drive(in, kSlow_s);
}

void Patient::update_circulation() noexcept {
  const Load& load = course_.load();
  CirculationDemand d = demand_;
  // Strong suction is borne by the wall of the chest before it reaches the heart.
  const double more_cmH2O = mean_pleural_cmH2O_ - rest_pleural_cmH2O_;
  d.chest_pressure_mmHg =
      -4.0 + (more_cmH2O > -5.0 ? more_cmH2O : -5.0 + 0.35 * (more_cmH2O + 5.0)) / 1.3595;
  d.saturation = gas_.sao2();
  d.carried = gas_.carried();
  d.ph = gas_.ph();
  d.oxygen_deficit = gas_.oxygen_deficit();
  d.paco2_mmHg = gas_.paco2_mmHg() - load.of_body(kRetainedCo2_mmHg) + 40.0 - reference_.paco2_mmHg;
  d.brainstem = brainstem_;
  d.pooled_L = pooled_L();
  d.compressions = load.of_body(kCompressions);
  d.breath_mmHg = d.compressions > 0.0 ? 0.0 : (pleural_now_ - mean_pleural_cmH2O_) / 1.3595;
  const double rest = breathing_.parameters().resting_tidal_L;
  d.inflation = (mechanics_.gas_L() - mean_volume_L_) / rest;
  d.breaths_per_min = breathing_.rate_per_min();
  // A pause is no long expiration: only the usual length of a breath counts as one.
  const double usual_s = 60.0 / breathing_.parameters().resting_rate_per_min;
  const double planned_s = breathing_.expiration_s();
  d.apnoea_s = time_s() - last_breath_s_ - (planned_s < usual_s ? planned_s : usual_s);
  circulation_.step(d, kSlow_s);
}

void Patient::update_water(double dt) noexcept {
  const Load& load = course_.load();
  const double push = circulation_.wedge_mmHg() - kFilterThreshold_mmHg;
  const double leak = load.of_body(kCapillaryLeak);
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double basal = i == 2 || i == 4 ? 1.25 : 0.75;
    const double in = (push > 0.0 ? 0.0009 * push : 0.0) / 60.0 * basal + 0.008 / 60.0 * leak;
    const double room = 0.9 - water_[i];
    const double out = push > 0.0 ? 0.0 : water_[i] / 1500.0;
    water_[i] = clamp(water_[i] + dt * (in * (room > 0.0 ? room : 0.0) - out), 0.0, 0.9);
  }
}

void Patient::second_step() noexcept {
  const double t = time_s();
  course_.update(t, kSecond_s);
  course_.worsen(Mechanism::kUpperSecretions, 0.8 * vomit_);
  for (std::size_t k = 0; k < 2; ++k) {
    course_.worsen_side(Mechanism::kLungLeak_L_per_s_per_cmH2O, k, torn_[k]);
    course_.worsen_side(Mechanism::kLeakValve, k, valve_[k]);
  }
  course_.worsen_lobe(Mechanism::kMucus, 2, aspirated_);
  course_.worsen_lobe(Mechanism::kShunt, 2, 0.5 * aspirated_);
  course_.worsen_lobe(Mechanism::kLowVq, 4, 0.4 * aspirated_);
  for (std::size_t i = 0; i < kLobes; ++i) {
    course_.ease_lobe(Mechanism::kLungWater, i, kReopens_per_cmH2O * recruited_cmH2O_);
  }
  const Load& load = course_.load();
  update_water(kSecond_s);
  const double pressure = load.of_body(kAirwayPressure_cmH2O) +
                          0.4 * load.of_body(kInspiratorySupport_cmH2O) +
                          (load.of_body(kAssistedVolume) > 0.3 ? 5.0 : 0.0) + 3.0 * grunt_;
  recruited_cmH2O_ += (pressure - recruited_cmH2O_) * kSecond_s / 390.0;
  if (recruited_cmH2O_ > 15.0) recruited_cmH2O_ = 15.0;
  const double exposure = load.of_body(kCarbonMonoxide);
  if (exposure > exposure_) {
    // Blood takes it up as it passes the lung: minutes for a heavy dose (size our choice).
    const double flow =
        circulation_.output_L_per_s() / (reference_.cardiac_output_L_per_min / 60.0);
    const double most = exposure_ + kSecond_s * 0.002 * clamp(flow, 0.0, 2.0);
    const double now = exposure < most ? exposure : most;
    gas_.take_up_carbon_monoxide((now - exposure_) / (1.0 - exposure_));
    exposure_ = now;
  }
  update_stomach(kSecond_s);
  update_creep(kSecond_s);
  update_body();
  blood_ = lung_blood_of(reference_, posture_, load, felt_water(), mechanics_, gas_);
  gas_.set_unperfused(blood_.unperfused);

  update_reflexes();
  update_demand();
  update_tissue();
  update_brain(kSecond_s);
  update_oximeter();
}

// Wall, diaphragm and middle of the chest give way to a lasting push, over minutes to an hour, and
// spring back when the gas is let out (sizes our choice): the flap goes on filling the room that
// they give, which is why a tension that breathing alone keeps up still gets worse.
void Patient::update_creep(double dt) noexcept {
  const double size = reference_.frc_L / 3.0;
  for (std::size_t k = 0; k < 2; ++k) {
    const double gas = mechanics_.state().pleural_gas_L[k] / size;
    const double push = mean_side_cmH2O_[k] + 1.5;
    if (push > 0.0 && gas > 0.8) {
      wall_creep_L_[k] += dt * size * kWallCreep * (push < 12.0 ? push : 12.0);
      if (wall_creep_L_[k] > 0.6 * size) wall_creep_L_[k] = 0.6 * size;
    } else {
      wall_creep_L_[k] *= 1.0 - dt / 20.0;
    }
  }
  double more = 0.0, most_push = 0.0;
  for (std::size_t k = 0; k < 2; ++k) {
    // Through an opening to the outside the push ends with every expiration.
    if (mechanics_.parameters().side[k].wound_L_per_s_per_cmH2O > 0.004 * size) continue;
    const double gas = mechanics_.state().pleural_gas_L[k], push = mean_side_cmH2O_[k] + 1.5;
    if (gas > more) more = gas;
    if (gas > 0.3 * reference_.frc_L && push > most_push) most_push = push;
  }
  const double aim = kMostCreep * clamp((more / reference_.frc_L - 0.5) / 0.35, 0.0, 1.0);
  const bool is_pushed = most_push > 0.0 && aim > 0.0;
  given_ = is_pushed ? clamp(given_ + dt * clamp(most_push / 3.0, 0.0, 1.5) / kGivesWay_s, 0.0, 1.0)
                     : given_ * (1.0 - dt / 60.0);
  const double push = most_push < 9.0 ? most_push : 9.0;
  const double grown = creep_ + dt * kCreep_per_s * clamp(2.0 * given_ - 1.0, 0.0, 1.0) * push *
                                    (1.0 + 0.001 * push * push * push * push);
  creep_ = is_pushed && creep_ <= aim
               ? (grown < aim ? grown : aim)
               : creep_ + (aim * is_pushed - creep_) * clamp(dt / 4.0, 0.0, 1.0);
}

// A mask blows air into the stomach above the pressure that its door holds: 18 cmH2O in small
// children (CJA 2018;65:1288), 20 in adults, 6 after minutes without a pulse (from memory). A full
// stomach of one who cannot guard the airway empties upwards, and part of it is breathed in.
void Patient::update_stomach(double dt) noexcept {
  const Load& load = course_.load();
  const double size = reference_.frc_L / 3.0;
  const bool is_bagged = load.of_body(kAssistedVolume) > 0.3;
  if (is_bagged && load.of_body(kTubeInGullet) < 0.5) {
    const double door = circulation_.is_arrested() ? 6.0 : person_.age_years < 6.0 ? 18.0 : 20.0;
    const double over = most_mouth_cmH2O_ - door;
    if (over > 0.0) stomach_L_ += dt * size * clamp(0.0006 * over, 0.0, 0.01);
  }
  most_mouth_cmH2O_ *= 1.0 - dt / 6.0;
  stomach_L_ *= 1.0 - dt / 3600.0;
  if (stomach_L_ > 1.3 * size && arousal_ < 0.4) {
    vomit_ = 1.0;
    aspirated_ += dt / 90.0 * (0.6 - aspirated_ > 0.0 ? 0.6 - aspirated_ : 0.0);
    stomach_L_ -= dt * 0.02 * size;
  }
  vomit_ *= 1.0 - dt / 240.0;
  // Air under pressure finds the tissue of a torn chest wall and spreads, faster under the bag.
  double torn = 0.0;
  for (std::size_t k = 0; k < 2; ++k) {
    torn += load.at_side(kFlail, k) + 4.0 * load.at_side(kChestWound_L_per_s_per_cmH2O, k);
  }
  const double push = mechanics_.flows().pleural_cmH2O[0] > mechanics_.flows().pleural_cmH2O[1]
                          ? mechanics_.flows().pleural_cmH2O[0]
                          : mechanics_.flows().pleural_cmH2O[1];
  const double gas = mechanics_.state().pleural_gas_L[0] + mechanics_.state().pleural_gas_L[1];
  if (torn > 0.0 && gas > 0.05 * size && push > 0.0) {
    skin_air_ +=
        dt * (1.0 - skin_air_) * clamp(push / 10.0, 0.0, 2.0) * clamp(torn, 0.0, 1.0) / 300.0;
  }
}

// Reflexes of the lung that need a slower look: stiffness, irritation (by water, by full capillaries,
// by narrow or fallen lung), an infant's grunt.
void Patient::update_reflexes() noexcept {
  const Load& load = course_.load();
  double block = 0.0, airless = 0.0, slope = 0.0, narrow = 0.0, wide = 0.0;
  std::array<double, 2> side_L{};
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double radius = body_.shape[i].radius_ratio;
    narrow += kLobeShare[i] * (1.0 - radius);
    wide += kLobeShare[i] * radius * radius * radius * radius;
    block += kLobeShare[i] * load.at_lobe(kPerfusionBlock, i);
    airless += kLobeShare[i] * (load.at_lobe(kConsolidation, i) + load.at_lobe(kCollapse, i));
    side_L[side_index(i)] += mechanics_.state().volume_L[i];
    slope += 1.0 / mechanics_.recoil_slope_cmH2O_per_L(i, mechanics_.state().volume_L[i]);
  }
  const double wall = 1.0 / reference_.chest_wall_compliance_L_per_cmH2O;
  const double healthy =
      wall + 2.0 * 0.95 * reference_.lung_recoil_cmH2O / (reference_.frc_L - 0.5 * reference_.rv_L);
  stiffness_ = clamp((wall + 1.0 / slope) / healthy, 0.7, 6.0);
  resistance_ = 1.0 / (wide > 0.005 ? wide : 0.005);
  // A lung that falls in asks for more breath (deflation reflex; size our choice).
  double fallen = 0.0;
  for (std::size_t k = 0; k < 2; ++k) {
    const double share = k == 0 ? 0.533 : 0.467;
    fallen += 1.1 * clamp(0.85 - side_L[k] / (reference_.frc_L * share), 0.0, 0.6);
  }
  irritation_ = 1.0 - (1.0 - load.of_body(kLungIrritation)) *
                          (1.0 - clamp(0.9 * body_.lung_water_mean, 0.0, 0.5)) *
                          (1.0 - clamp(0.02 * (circulation_.wedge_mmHg() - 22.0), 0.0, 0.3)) *
                          (1.0 - clamp(0.4 * block, 0.0, 1.0)) *
                          (1.0 - clamp(0.7 * narrow, 0.0, 0.5)) * (1.0 - clamp(fallen, 0.0, 0.7)) *
                          (1.0 - clamp(0.5 * airless, 0.0, 1.0));
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
  const double shift = mean_shift_L_ / (0.22 * reference_.frc_L);
  // Veins bend less and less (size our choice; row 25 of the published values was in view).
  // What pushes is air or fluid in the pleura; a lung that falls in draws them without a bend.
  const std::size_t full = shift > 0.0 ? 0 : 1;
  const double pushes =
      clamp((mechanics_.state().pleural_gas_L[full] + mechanics_.parameters().side[full].fluid_L) /
                (0.3 * reference_.frc_L),
            0.0, 1.0);
  const double moved = pushes * clamp((shift < 0.0 ? -shift : shift) - 0.5, 0.0, 10.0);
  demand_.great_vein_kink = kMostKink * (1.0 - det::exp(-4.5 * moved / kMostKink));
  // Fluid that came fast fills a bag that does not stretch: P = 2 (exp((V - 50 mL) / 45 mL) - 1).
  const double bag = load.of_body(kPericardialFluid_L);
  demand_.pericardial_mmHg =
      bag > 0.05 ? clamp(2.0 * (det::exp((bag - 0.05) / 0.045) - 1.0), 0.0, 40.0) : 0.0;
  demand_.vasodilation = load.of_body(kVasodilation);
  demand_.vasoconstriction = load.of_body(kVasoconstriction);
  demand_.weakness = load.of_body(kHeartWeakness);
  demand_.stronger = load.of_body(kStrongerHeart);
  const double effort_alarm = arousal_ * clamp((breathing_.drive() - 1.8) / 7.0, 0.0, 0.5);
  // Who is helped to breathe calms down (size our choice).
  const double surge =
      load.of_body(kSympatheticSurge) * (1.0 - 0.30 * clamp(recruited_cmH2O_ / 6.0, 0.0, 1.0));
  const double fear = arousal_ * load.of_body(kAnxiety);
  demand_.surge = 0.9 * surge + (0.3 + 0.7 * surge) * effort_alarm + 0.25 * fear;
  const double strain = added_effort();
  const double scale = det::sqrt(reference_.heart_rate_per_min / 72.0);
  demand_.added_rate_per_min =
      scale * (9.0 * clamp(temperature_C_ - 37.0, -3.0, 4.0) + 28.0 * fear +
               10.0 * arousal_ * load.of_body(kPain) + 5.5 * clamp(strain, 0.0, 7.0) +
               // Blood that carries less: 30 beats for 62 % of it (Weiskopf 1998, from memory).
               48.0 * gas_.carboxyhaemoglobin() +
               // Fixed acid (direction: Crit Care cc13173; size our choice).
               1.2 * clamp(breathing_.bicarbonate_lost(), 0.0, 25.0)) +
      load.of_body(kMoreHeartBeats_per_min);
  demand_.plasma_leak_L_per_s = 0.0018 * person_.weight_kg / 70.0 * load.of_body(kCapillaryLeak);
  // Who has more than the usual in the vessels, and a heart that moves it, passes it on to tissue
  // and kidney (133 mL/min of a fast infusion in the well, 34 in the bled: Anesthesiology 1999;90:81).
  const double over = -circulation_.lost_L() - 0.05;
  if (over > 0.0 &&
      circulation_.mean_arterial_mmHg() > 0.8 * circulation_.resting_pressure_mmHg()) {
    demand_.plasma_leak_L_per_s += over / 3000.0 * clamp(1.0 - 4.0 * demand_.weakness, 0.0, 1.0);
  }
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
  // Quiet breathing takes two per cent of the oxygen; work goes with force and rate.
  const double work = (1.0 + added_effort()) * breathing_.rate_per_min() /
                          breathing_.parameters().resting_rate_per_min -
                      1.0;
  gas_.parameters().oxygen_use_mL_per_s = reference_.oxygen_use_mL_per_min / 60.0 *
                                          (1.0 + 0.1 * clamp(temperature_C_ - 37.0, -3.0, 4.0)) *
                                          (1.0 + 0.022 * clamp(work, 0.0, 25.0)) *
                                          (0.5 + 0.5 * brainstem_);
  gas_.parameters().base_bicarbonate_mmol_per_L = reference_.bicarbonate_mmol_per_L -
                                                  load.of_body(kAcid_mmol_per_L) +
                                                  0.45 * load.of_body(kRetainedCo2_mmHg);
  temperature_C_ += (37.0 + load.of_body(kFever_C) - temperature_C_) * 0.02;
}

// Flow to the head: held down to about 60 % of the usual pressure, then falling with it; carbon
// dioxide and want of oxygen open its vessels (textbook, from memory; sizes our choice).
double Patient::brain_flow() const noexcept {
  const double head = posture_ == Posture::kSitting    ? 12.0
                      : posture_ == Posture::kReclined ? 7.0
                                                       : 0.0;
  const double usual = circulation_.resting_pressure_mmHg();
  const double pressure =
      circulation_.mean_arterial_mmHg() - head * person_.height_cm / 170.0 -
      (circulation_.right_atrial_mmHg() > 5.0 ? circulation_.right_atrial_mmHg() - 5.0 : 0.0);
  const double held = clamp(pressure / (0.58 * usual), 0.0, 1.0);
  // Vessels that a low pressure has opened cannot be opened further.
  const double co2 = clamp(0.02 * (gas_.paco2_mmHg() - reference_.paco2_mmHg), -0.4, 0.6);
  return held * (1.0 + co2 * held * held);
}

// The mind, the brainstem, the gasping centre and what lasts: each lives on flow x oxygen carried.
void Patient::update_brain(double dt) noexcept {
  const Load& load = course_.load();
  const double flow = brain_flow();
  const double carried = gas_.carried();
  const double supply = flow * carried / 0.97;
  // Injury: minutes without supply, or longer with part of it; a newborn's brain bears twice as
  // long (from memory).
  const double short_by = clamp(1.0 - supply / 0.30, 0.0, 1.0);
  const double tender = person_.age_years < 0.1 ? 0.5 : 1.0;
  brain_injury_min_ += tender * short_by * dt / 60.0;
  const double dose = brain_injury_min_;
  // Under 3 wakes, 3 to 6 confused, beyond 8 does not wake (dose rule: our choice).
  const double left = dose < 3.0   ? 1.0
                      : dose < 6.0 ? 1.0 - 0.35 * (dose - 3.0) / 3.0
                      : dose < 9.0 ? 0.65 - 0.60 * (dose - 6.0) / 3.0
                                   : 0.0;
  const double narcosis = clamp(
      1.0 - (gas_.paco2_mmHg() - 40.0 - load.of_body(kRetainedCo2_mmHg) - 25.0) / 50.0, 0.0, 1.0);
  const double awake = clamp((carried - 0.42) / 0.25, 0.0, 1.0) *
                       clamp((flow - 0.33) / 0.24, 0.0, 1.0) * narcosis *
                       (1.0 - 0.9 * load.of_body(kRespiratoryDepression));
  const double aim = clamp(awake, 0.0, 1.0) * left;
  // Consciousness goes within seconds of the flow and comes back more slowly, the longer it was
  // gone.
  const double tau =
      aim < arousal_ ? (flow < 0.3 ? 6.5 : 9.0) : 16.0 + 40.0 * (dose < 6.0 ? dose : 6.0);
  arousal_ += (aim - arousal_) * clamp(dt / tau, 0.0, 1.0);
  // The brainstem fails below a saturation of 23 % or so (jjphysiol 1950 15:405), a small infant's
  // sooner (from memory).
  const double fails_at = person_.age_years < 0.5 ? 0.22 : 0.12;
  const double stem_left = dose < 9.0 ? 1.0 : clamp(1.0 - (dose - 9.0) / 5.0, 0.0, 1.0);
  const double alive = clamp((carried - fails_at) / 0.16, 0.0, 1.0) *
                       clamp((flow - 0.12) / 0.2, 0.0, 1.0) * stem_left;
  brainstem_ +=
      (alive - brainstem_) *
      clamp(dt / (alive < brainstem_ ? 18.0 : 20.0 + 12.0 * (dose < 8.0 ? dose : 8.0)), 0.0, 1.0);
  // Gasps last some minutes without supply, in the newborn about eight (Dawes, from memory).
  const double lasts_s = person_.age_years < 0.1 ? 420.0 : 190.0;
  const double fed = clamp(supply / 0.2, 0.0, 1.0) * stem_left;
  gasping_ += fed < 0.5 ? -dt / lasts_s * (1.0 - 2.0 * fed) : dt / 60.0 * (stem_left - gasping_);
  gasping_ = clamp(gasping_, 0.0, 1.0);
}

void Patient::update_oximeter() noexcept {
  ring_at_ = (ring_at_ + 1u) % 64u;
  // Carbon monoxide reads as oxygen (Bozeman 1997).
  saturation_ring_[ring_at_] = gas_.carried() + gas_.carboxyhaemoglobin();
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
