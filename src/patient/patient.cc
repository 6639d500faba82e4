#include "patient/patient.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kLargeHole = 0.03;  // L/s/cmH2O, adult: the leak of the worst tension pneumothorax

using det::clamp;

}  // namespace

Result<Patient> Patient::make(const PatientConfig& config, Seed seed) {
  const auto person = TRY(complete(config.person));
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
  double last_s = -config.before_s;
  for (const BegunTreatment& b : config.begun) {
    if (b.index < 0 || b.index >= static_cast<int>(config.treatments.size())) {
      return fail(out_of_range("begun treatment", b.index, "the place of a treatment"));
    }
    if (!(b.at_s >= last_s && b.at_s <= 0.0)) {
      return fail(out_of_range("begun treatment, at_s", b.at_s,
                               "from -before_s to 0, none before the one that stands before it"));
    }
    last_s = b.at_s;
  }
  Patient patient(config, person, reference_of(person), seed);
  for (const BegunTreatment& b : config.begun) {
    patient.advance_to(b.at_s);
    patient.act({ActionKind::kTreat, b.index, b.side});
  }
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
  gas_.fill(mechanics_.state(), reference_.paco2_mmHg, 142.0 - reference_.paco2_mmHg,
            reference_.cardiac_output_L_per_min / 60.0);
  blood_ = lung_blood_of(reference_, posture_, course_.load(), water_, mechanics_, gas_);
  low_L_ = high_L_ = end_expiratory_L_ = mechanics_.gas_L();
  breath_low_L_ = breath_high_L_ = mechanics_.state().volume_L;
  bled_L_ = 0.0;
  mean_volume_L_ = mechanics_.gas_L();
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
  upper.whoop_cmH2O_s2_per_L2 =
      breathing_.is_whooping(middle) ? 14.0 * orifice_cmH2O_s2_per_L2(body_.upper_area_mm2) : 0.0;
  const Effort effort = effort_at(middle);
  mechanics_.step(effort, step_s_);
  // What is blown into the gullet does not stand at the glottis.
  const bool is_astray = course_.load().of_body(kTubeInGullet) > 0.5;
  const double oxygen = is_astray ? 0.0 : course_.load().of_body(kOxygenFraction);
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

bool Patient::act(const Action& a) noexcept {
  switch (a.kind) {
    case ActionKind::kTreat:
      return course_.apply(a.index, a.side, time_s());
    case ActionKind::kStop:
      return course_.stop(a.index, a.side);
    case ActionKind::kAsk: {
      if (a.index < 0 || a.index > static_cast<int>(Manoeuvre::kForced)) return false;
      const auto manoeuvre = static_cast<Manoeuvre>(a.index);
      const bool lasts = manoeuvre != Manoeuvre::kTidal && manoeuvre != Manoeuvre::kCough &&
                         manoeuvre != Manoeuvre::kForced;
      breathing_.request(manoeuvre, lasts ? a.seconds : 0.0);
      return true;
    }
    case ActionKind::kSetPosture:
      if (a.index < 0 || a.index >= kNumPostures) return false;
      posture_ = static_cast<Posture>(a.index);
      return true;
    case ActionKind::kSteer:
      return steer(a.index, a.amount, a.seconds);
    case ActionKind::kHappen:
      if (a.index < 0 || a.index >= kNumEvents) return false;
      return happen(static_cast<Event>(a.index), a.side, a.amount);
  }
  return false;
}

bool Patient::steer(int condition, double severity, double over_s) noexcept {
  if (condition < 0 || condition >= condition_count()) return false;
  if (!(severity >= 0.0 && severity <= 1.0 && over_s >= 0.0)) return false;
  course_.steer(static_cast<std::size_t>(condition), severity, time_s(), over_s);
  return true;
}

double Patient::severity(int condition) const noexcept {
  if (condition < 0 || condition >= condition_count()) return 0.0;
  return course_.severity(static_cast<std::size_t>(condition), time_s());
}

bool Patient::happen(Event event, exam::Side side, double amount) noexcept {
  if (!(amount >= 0.0 && amount <= 1.0)) return false;
  const std::array<bool, 2> on{side != exam::Side::kLeft, side != exam::Side::kRight};
  switch (event) {
    case Event::kVomit:
      vomit_ = 1.0;
      // Who is awake guards the airway: a little goes down all the same.
      aspirated_ = clamp(aspirated_ + amount * (0.05 + 0.5 * (1.0 - arousal_)), 0.0, 0.6);
      return true;
    case Event::kTire:
      breathing_.tire_by(amount);
      return true;
    case Event::kOneWayLeak:
      for (std::size_t k = 0; k < 2; ++k) {
        if (on[k]) valve_[k] = 1.0;
      }
      return true;
    case Event::kTornLung:
      for (std::size_t k = 0; k < 2; ++k) {
        if (on[k]) torn_[k] = clamp(torn_[k] + kLargeHole * amount, 0.0, 2.0 * kLargeHole);
      }
      return true;
    case Event::kCough:
      breathing_.request(Manoeuvre::kCough, 0.0);
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
