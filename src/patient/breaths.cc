// The patient breath by breath: the effort that finds the healthy tidal volume, what drives the
// lung now, and what each breath leaves to be read.
#include "base/det_math.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kMachineLimit_cmH2O = 45.0;  // a hand on a bag feels this and stops squeezing
constexpr double kBagRate = 1.1;              // x the resting rate: a hand in a hurry (our choice)
constexpr double kPushes_per_s = 110.0 / 60.0;
constexpr double kUnloaded = 0.15;  // muscles ride along with a hand on the bag (our choice)

using det::clamp;

}  // namespace

// Finds the effort that gives this person, healthy and sitting, a normal PaCO2.
void Patient::calibrate() noexcept {
  const Load none;
  const Body healthy = body_of(person_, reference_, Posture::kSitting, none, {});
  BreathingParameters p;
  p.resting_rate_per_min = reference_.respiratory_rate_per_min;
  p.inspired_share = reference_.inspired_share;
  p.strength_cmH2O = reference_.muscle_strength_cmH2O;
  const double co2 = reference_.exchange_ratio * reference_.oxygen_use_mL_per_min;
  const double alveolar_L_per_min = 0.863 * co2 / reference_.paco2_mmHg;
  p.resting_paco2_mmHg = reference_.paco2_mmHg;
  p.age_years = person_.age_years;
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

Effort Patient::effort_at(double t) noexcept {
  const Load& load = course_.load();
  Effort e;
  e.muscle_cmH2O = is_paralysed_ ? 0.0 : breathing_.muscle_cmH2O(t);
  e.opening_cmH2O = load.of_body(kAirwayPressure_cmH2O);
  const double support = load.of_body(kInspiratorySupport_cmH2O);
  if (support > 0.0 && !is_paralysed_ && breathing_.is_inspiring(t)) e.opening_cmH2O += support;
  // Hands on the chest squeeze and let go.
  const double pushes = load.of_body(kCompressions);
  if (pushes > 0.0) {
    const double beat = t * kPushes_per_s;
    if (beat - static_cast<double>(static_cast<long long>(beat)) < 0.5) {
      e.muscle_cmH2O -= 12.0 * pushes;
    }
  }
  const double assisted = load.of_body(kAssistedVolume);
  if (assisted > 0.3) {
    e.muscle_cmH2O *= kUnloaded;
    const double period = 60.0 / (kBagRate * reference_.respiratory_rate_per_min);
    double since = t - machine_start_s_;
    if (since >= period || since < 0.0) {
      machine_start_s_ = t;
      since = 0.0;
    }
    const double ti = 0.33 * period;
    if (since < ti) {
      const double flow = assisted * 1.1 * breathing_.parameters().resting_tidal_L / ti;
      if (load.of_body(kTubeInGullet) > 0.5) {  // what the hand gives goes to the stomach
        stomach_L_ += flow * step_s_;
        return e;
      }
      e.is_flow_set = mechanics_.flows().mouth_cmH2O < kMachineLimit_cmH2O || since < step_s_;
      e.set_flow_L_per_s = flow;
      if (!e.is_flow_set) e.opening_cmH2O = kMachineLimit_cmH2O;
    }
  }
  return e;
}

// One breath is over: keep its measures. A cough says nothing about quiet breathing.
void Patient::close_breath(double t, double gas) noexcept {
  counted_breath_ = breathing_.breath_count();
  const bool is_ordinary =
      last_manoeuvre_ != Manoeuvre::kCough && last_manoeuvre_ != Manoeuvre::kForced &&
      last_manoeuvre_ != Manoeuvre::kParoxysm && last_manoeuvre_ != Manoeuvre::kWhoop;
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
  if (f.mouth_cmH2O > most_mouth_cmH2O_) most_mouth_cmH2O_ = f.mouth_cmH2O;
  pleural_now_ += (pleural - pleural_now_) * (step_s_ / 0.25);
  mean_volume_L_ += (gas - mean_volume_L_) * (step_s_ / 6.0);
  for (std::size_t k = 0; k < 2; ++k)
    mean_side_cmH2O_[k] += (f.pleural_cmH2O[k] - mean_side_cmH2O_[k]) * (step_s_ / 6.0);
  mean_shift_L_ += (f.mediastinal_shift_L - mean_shift_L_) * (step_s_ / 4.0);
  // A capnometer at the mouth; its cell answers in a tenth of a second.
  const double at_mouth = flow < 0.0 ? gas_.mouth_pco2_mmHg() : 0.3;
  co2_now_ += (at_mouth - co2_now_) * clamp(step_s_ / 0.08, 0.0, 1.0);
  if (co2_now_ > co2_max_) co2_max_ = co2_now_;
  if (flow < 0.0 && steps_ % 4 == 0 && trace_size_ < trace_.size()) {
    trace_[trace_size_++] = static_cast<float>(co2_now_);
    for (std::size_t i = 0; i < kLobes; ++i) limited_sum_ += kLobeShare[i] * f.limitation[i];
  }
}

}  // namespace phren::patient
