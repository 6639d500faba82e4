#include "patient/patient.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kSlow_s = 1.0 / 16.0;
constexpr double kSecond_s = 1.0;
constexpr double kMachineLimit_cmH2O = 45.0;  // a hand on a bag feels this and stops squeezing
constexpr double kUnloaded = 0.15;  // muscles ride along with a hand on the bag (our choice)
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

Result<Patient> Patient::make(const PatientConfig& config, Seed seed) {
  const auto person = complete(config.person);
  if (!person) return fail(person.error());
  if (!(config.step_s >= 1.0 / 4096.0 && config.step_s <= 1.0 / 32.0)) {
    return fail(out_of_range("step_s", config.step_s, "between 1/4096 and 1/32"));
  }
  const double per_slow = kSlow_s / config.step_s;
  if (per_slow != static_cast<double>(static_cast<int>(per_slow))) {
    return fail(out_of_range("step_s", config.step_s, "a whole part of 1/16 s, such as 1/128"));
  }
  if (!(config.before_s >= 0.0 && config.before_s <= 7200.0)) {
    return fail(out_of_range("before_s", config.before_s, "between 0 and 7200"));
  }
  for (const ActiveCondition& c : config.conditions) {
    for (double s : {c.severity, c.severity_later}) {
      if (!(s >= 0.0 && s <= 1.0)) return fail(out_of_range("severity", s, "between 0 and 1"));
    }
  }
  Patient patient(config, *person, reference_of(*person), seed);
  patient.advance_to(0.0);
  return patient;
}

Patient::Patient(const PatientConfig& config, const Person& person, const Reference& reference,
                 Seed seed)
    : person_(person),
      reference_(reference),
      posture_(config.posture),
      step_s_(config.step_s),
      start_s_(-config.before_s),
      slow_every_(static_cast<std::uint32_t>(kSlow_s / config.step_s)),
      second_every_(static_cast<std::uint32_t>(kSecond_s / config.step_s)),
      conditions_(config.conditions),
      course_(config, seed),
      mechanics_(MechanicsParameters{}),
      breathing_(BreathingParameters{}),
      gas_(gas_parameters_of(person, reference)),
      circulation_(circulation_parameters_of(person, reference)) {
  calibrate();
  saturation_ring_.fill(0.97);
  course_.update(start_s_, 0.0);
  update_body();
  // The illness begins from the healthy resting volumes, so its first breaths are its own.
  mechanics_.settle();
  gas_.fill(mechanics_.state(), 40.0, 102.0, reference_.cardiac_output_L_per_min / 60.0);
  blood_ = lung_blood_of(reference_, course_.load(), water_, mechanics_, gas_);
  low_L_ = high_L_ = end_expiratory_L_ = mechanics_.gas_L();
  breath_low_L_ = breath_high_L_ = mechanics_.state().volume_L;
  bled_L_ = 0.0;
}

// Finds the effort that gives this person, healthy and sitting, a normal PaCO2.
void Patient::calibrate() noexcept {
  const Load none;
  const Body healthy = body_of(person_, reference_, Posture::kSitting, none, {});
  BreathingParameters p;
  p.resting_rate_per_min = reference_.respiratory_rate_per_min;
  p.inspired_share = reference_.inspired_share;
  p.strength_cmH2O = reference_.muscle_strength_cmH2O;
  const double co2 = reference_.exchange_ratio * reference_.oxygen_use_mL_per_min;
  const double alveolar_L_per_min = 0.863 * co2 / 40.0;
  p.resting_tidal_L =
      1.06 * alveolar_L_per_min / p.resting_rate_per_min + 1.02 * reference_.dead_space_L;
  double effort = 6.0;
  for (int round = 0; round < 8; ++round) {
    Mechanics lung(healthy.mechanics);
    lung.settle();
    p.resting_effort_cmH2O = effort;
    Breathing centre(p);
    double time = 0.0, low = lung.gas_L(), high = low, tidal = p.resting_tidal_L, pleural = 0.0;
    int samples = 0;
    const double period = 60.0 / p.resting_rate_per_min;
    while (time < 3.0 * period) {
      if (centre.advance(time, lung.gas_L(), -lung.flows().trachea_L_per_s)) {
        if (high > low) tidal = high - low;
        low = high = lung.gas_L();
      }
      lung.step({centre.muscle_cmH2O(time + 0.5 * step_s_), 0.0, false, 0.0}, step_s_);
      time += step_s_;
      if (lung.gas_L() > high) high = lung.gas_L();
      if (lung.gas_L() < low) low = lung.gas_L();
      pleural += 0.5 * (lung.flows().pleural_cmH2O[0] + lung.flows().pleural_cmH2O[1]);
      ++samples;
    }
    mean_pleural_cmH2O_ = rest_pleural_cmH2O_ = pleural / samples;
    const double miss = p.resting_tidal_L / (tidal > 1e-4 ? tidal : 1e-4);
    effort *= clamp(miss, 0.4, 2.5);
    if (miss > 0.999 && miss < 1.001) break;
  }
  p.resting_effort_cmH2O = effort;
  breathing_ = Breathing(p);
}

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

Effort Patient::effort_at(double t) noexcept {
  const Load& load = course_.load();
  Effort e;
  e.muscle_cmH2O = is_paralysed_ ? 0.0 : breathing_.muscle_cmH2O(t);
  e.opening_cmH2O = load.of_body(kAirwayPressure_cmH2O);
  const double assisted = load.of_body(kAssistedVolume);
  if (assisted > 0.3) {
    e.muscle_cmH2O *= kUnloaded;
    const double period = 60.0 / (0.85 * reference_.respiratory_rate_per_min);
    double since = t - machine_start_s_;
    if (since >= period || since < 0.0) {
      machine_start_s_ = t;
      since = 0.0;
    }
    const double ti = 0.33 * period;
    if (since < ti) {
      const double flow = assisted * 1.1 * breathing_.parameters().resting_tidal_L / ti;
      e.is_flow_set = mechanics_.flows().mouth_cmH2O < kMachineLimit_cmH2O || since < step_s_;
      e.set_flow_L_per_s = flow;
      if (!e.is_flow_set) e.opening_cmH2O = kMachineLimit_cmH2O;
    }
  }
  return e;
}

double Patient::time_s() const noexcept {
  return start_s_ + static_cast<double>(steps_) * step_s_;
}

void Patient::step() noexcept {
  const double t = time_s();
  if (!is_paralysed_ &&
      breathing_.advance(t, mechanics_.gas_L(), -mechanics_.flows().trachea_L_per_s)) {
    // A new inspiration: what was left in the lung, and how the last breath went.
    const Flows& f = mechanics_.flows();
    double alveolar = 0.0;
    for (std::size_t i = 0; i < kLobes; ++i) alveolar += kLobeShare[i] * f.alveolar_cmH2O[i];
    peep_cmH2O_ = clamp(alveolar - f.mouth_cmH2O, 0.0, 60.0);
    end_expiratory_L_ = mechanics_.gas_L();
  }
  const double middle = t + 0.5 * step_s_;
  auto& upper = mechanics_.parameters().upper;
  upper.glottis_brake_cmH2O_s_per_L =
      is_paralysed_ ? 0.0 : breathing_.glottis_brake_cmH2O_s_per_L(middle) + grunt_ * grunt_brake_;
  const Effort effort = effort_at(middle);
  mechanics_.step(effort, step_s_);
  const double oxygen = course_.load().of_body(kOxygenFraction);
  gas_.transport(mechanics_.flows(),
                 {oxygen > kAirOxygenFraction ? oxygen : kAirOxygenFraction, 0.0004}, step_s_);
  circulation_.advance_beat(step_s_);
  ++steps_;
  follow_breath();
  if (steps_ % slow_every_ == 0) slow_step();
  if (steps_ % second_every_ == 0) second_step();
}

void Patient::advance_to(double t) noexcept {
  while (time_s() + 0.5 * step_s_ < t) step();
}

// One breath is over: keep its measures. A cough says nothing about quiet breathing.
void Patient::close_breath(double t, double gas) noexcept {
  counted_breath_ = breathing_.breath_count();
  const bool is_ordinary =
      last_manoeuvre_ != Manoeuvre::kCough && last_manoeuvre_ != Manoeuvre::kForced;
  last_manoeuvre_ = breathing_.manoeuvre();
  if (is_ordinary) {
    tidal_L_ = high_L_ - low_L_;
    etco2_mmHg_ = co2_max_;
    read_capnogram();
    last_pleural_low_ = pleural_low_;
    last_pleural_high_ = pleural_high_;
  }
  for (std::size_t i = 0; i < kLobes; ++i) {
    if (is_ordinary) last_tidal_L_[i] = breath_high_L_[i] - breath_low_L_[i];
    breath_low_L_[i] = breath_high_L_[i] = mechanics_.state().volume_L[i];
    limited_L_[i] = 0.0;
  }
  for (std::size_t k = intervals_s_.size() - 1; k > 0; --k) intervals_s_[k] = intervals_s_[k - 1];
  intervals_s_[0] = t - last_breath_s_;
  last_breath_s_ = t;
  ++breath_count_;
  low_L_ = high_L_ = gas;
  co2_max_ = 0.0;
  trace_size_ = 0;
  limited_sum_ = 0.0;
  pleural_low_ = 1e3;
  pleural_high_ = -1e3;
}

// The plateau from the middle of expiration to its end: slope, and rise as a share of the end
// value. A fast shallow breath slants it too; what makes it an obstructive trace is that flow was
// limited.
void Patient::read_capnogram() noexcept {
  if (trace_size_ < 8) return;
  const std::size_t last = trace_size_ - 2, middle = trace_size_ / 2;
  const double end = static_cast<double>(trace_[last]);
  const double rise = end - static_cast<double>(trace_[middle]);
  plateau_slope_mmHg_per_s_ = rise / (static_cast<double>(last - middle) * 4.0 * step_s_);
  is_capnogram_obstructive_ =
      end > 10.0 && rise > 0.12 * end && limited_sum_ > 0.04 * static_cast<double>(trace_size_);
}

// Phases by flow with hysteresis, so that a hold is a pause and the truth is what gas did.
void Patient::follow_breath() noexcept {
  const Flows& f = mechanics_.flows();
  const double gas = mechanics_.gas_L();
  const double flow = f.trachea_L_per_s;
  const double least = 0.04 * breathing_.parameters().resting_tidal_L;
  const double t = time_s();
  exam::Phase now = phase_;
  if (flow > least)
    now = exam::Phase::kInspiration;
  else if (flow < -least)
    now = exam::Phase::kExpiration;
  else if (flow < 0.35 * least && flow > -0.35 * least)
    now = exam::Phase::kPause;
  if (now != phase_) {
    // A breath counts when the centre began one (or a machine did) and gas moved.
    const bool began = is_paralysed_ || breathing_.breath_count() != counted_breath_ ||
                       course_.load().of_body(kAssistedVolume) > 0.3;
    if (now == exam::Phase::kInspiration && began &&
        high_L_ - low_L_ > 0.15 * breathing_.parameters().resting_tidal_L) {
      close_breath(t, gas);
    }
    phase_ = now;
    phase_start_s_ = t;
  }
  if (gas > high_L_) high_L_ = gas;
  if (gas < low_L_) low_L_ = gas;
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double v = mechanics_.state().volume_L[i];
    if (v > breath_high_L_[i]) breath_high_L_[i] = v;
    if (v < breath_low_L_[i]) breath_low_L_[i] = v;
    if (f.limitation[i] > 0.5) limited_L_[i] -= f.lobe_L_per_s[i] * step_s_;
  }
  const double pleural = 0.5 * (f.pleural_cmH2O[0] + f.pleural_cmH2O[1]);
  if (pleural < pleural_low_) pleural_low_ = pleural;
  if (pleural > pleural_high_) pleural_high_ = pleural;
  mean_pleural_cmH2O_ += (pleural - mean_pleural_cmH2O_) * (step_s_ / 4.0);
  // A capnometer at the mouth; its cell answers in a tenth of a second.
  const double at_mouth = flow < 0.0 ? gas_.mouth_pco2_mmHg() : 0.3;
  co2_now_ += (at_mouth - co2_now_) * clamp(step_s_ / 0.08, 0.0, 1.0);
  if (co2_now_ > co2_max_) co2_max_ = co2_now_;
  if (flow < 0.0 && steps_ % 4 == 0 && trace_size_ < trace_.size()) {
    trace_[trace_size_++] = static_cast<float>(co2_now_);
    for (std::size_t i = 0; i < kLobes; ++i) limited_sum_ += kLobeShare[i] * f.limitation[i];
  }
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
  in.muscle_length = mechanics_.muscle_length_factor(mechanics_.gas_L());
  in.stiffness = stiffness_;
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

  // Reflexes that need a slower look at the lung.
  double block = 0.0, airless = 0.0, slope = 0.0, narrow = 0.0;
  for (std::size_t i = 0; i < kLobes; ++i) {
    narrow += kLobeShare[i] * (1.0 - body_.shape[i].radius_ratio);
    block += kLobeShare[i] * load.at_lobe(kPerfusionBlock, i);
    airless += kLobeShare[i] * (load.at_lobe(kConsolidation, i) + load.at_lobe(kCollapse, i));
    slope += 1.0 / mechanics_.recoil_slope_cmH2O_per_L(i, mechanics_.state().volume_L[i]);
  }
  const double wall = 1.0 / reference_.chest_wall_compliance_L_per_cmH2O;
  const double healthy =
      wall + 2.0 * 0.95 * reference_.lung_recoil_cmH2O / (reference_.frc_L - 0.5 * reference_.rv_L);
  stiffness_ = clamp((wall + 1.0 / slope) / healthy, 0.7, 6.0);
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

  // Circulation's part.
  demand_ = CirculationDemand{};
  const double vessels = clamp(1.0 * blood_.conductance, 0.05, 1.0);
  demand_.lung_vessel_resistance = 1.0 / (vessels * vessels) *
                                   (1.0 + 1.0 * clamp(gas_ratio - 1.5, 0.0, 1.5)) *
                                   (1.0 + 0.8 * load.mean_of_lobes(kFibrosis));
  const double shift = mechanics_.flows().mediastinal_shift_L / (0.08 * reference_.frc_L);
  demand_.great_vein_kink = clamp((shift < 0.0 ? -shift : shift) - 0.5, 0.0, 1.5);
  demand_.vasodilation = load.of_body(kVasodilation);
  demand_.vasoconstriction = load.of_body(kVasoconstriction);
  demand_.weakness = load.of_body(kHeartWeakness);
  demand_.stronger = load.of_body(kStrongerHeart);
  const double effort_alarm = clamp((breathing_.drive() - 3.0) / 10.0, 0.0, 0.5);
  const double surge = load.of_body(kSympatheticSurge);
  demand_.surge =
      0.9 * surge + (0.3 + 0.7 * surge) * effort_alarm * arousal_ + 0.25 * load.of_body(kAnxiety);
  const double strain =
      breathing_.effort_cmH2O() / breathing_.parameters().resting_effort_cmH2O - 1.0;
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

  // Tissue needs, mind, warmth.
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
  update_oximeter();
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

bool Patient::act(const Action& a) noexcept {
  switch (a.kind) {
    case ActionKind::kTreat:
      return course_.apply(a.index, a.side, time_s());
    case ActionKind::kStop:
      return course_.stop(a.index, a.side);
    case ActionKind::kBreatheDeeply:
      breathing_.request(Manoeuvre::kDeep, a.seconds);
      return true;
    case ActionKind::kBreatheNormally:
      breathing_.cancel();
      return true;
    case ActionKind::kHoldBreath:
      breathing_.request(Manoeuvre::kHold, a.seconds);
      return true;
    case ActionKind::kCough:
      breathing_.request(Manoeuvre::kCough, 0.0);
      return true;
    case ActionKind::kSpeak:
      breathing_.request(Manoeuvre::kSpeech, a.seconds);
      return true;
    case ActionKind::kSayVowel:
      breathing_.request(Manoeuvre::kVowel, a.seconds);
      return true;
    case ActionKind::kForcedBreath:
      breathing_.request(Manoeuvre::kForced, 0.0);
      return true;
    case ActionKind::kSetPosture:
      if (a.index < 0 || a.index > 2) return false;
      posture_ = static_cast<Posture>(a.index);
      return true;
  }
  return false;
}

void Patient::inject_pleural_gas(exam::Side side, double volume_L) noexcept {
  if (side == exam::Side::kMidline || !(volume_L > 0.0 && volume_L < 1.0)) return;
  mechanics_.state().pleural_gas_L[side == exam::Side::kRight ? 0 : 1] += volume_L;
}

Patient::Spirometry Patient::forced_breath() const noexcept {
  Mechanics lung = mechanics_;
  Spirometry out;
  const double strength = breathing_.most_effort_cmH2O();
  for (double t = 0.0; t < 3.0; t += step_s_)
    lung.step({0.95 * strength, 0.0, false, 0.0}, step_s_);
  const double top = lung.gas_L();
  for (double t = 0.0; t < 8.0; t += step_s_) {
    const double push = 0.9 * strength * clamp(t / 0.08, 0.0, 1.0);
    lung.step({-push, 0.0, false, 0.0}, step_s_);
    const double flow = -lung.flows().trachea_L_per_s;
    if (flow > out.peak_flow_L_per_s) out.peak_flow_L_per_s = flow;
    if (t < 1.0) out.fev1_L = top - lung.gas_L();
  }
  out.fvc_L = top - lung.gas_L();
  return out;
}

}  // namespace phren::patient
