#include "patient/breathing.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kCentralGain = 0.22;     // drive per mmHg
constexpr double kPeripheralGain = 0.09;  // drive per mmHg at normal saturation
constexpr double kHypoxicGain = 0.16;     // drive per per cent below 97
constexpr double kLowCo2Share = 0.3;
constexpr double kCentralTau_s = 70.0, kPeripheralTau_s = 8.0;
constexpr double kMostDrive = 14.0;
constexpr double kShutGlottis = 1e5;    // cmH2O s/L
constexpr double kSlowingLoad = 20.0;   // airway resistance / normal that lengthens the breath
constexpr double kFatigueOnset = 0.12;  // pressure-time index that can be kept up for ever
constexpr double kCoughIn_s = 0.55, kCoughShut_s = 0.2, kCoughBurst_s = 0.45;

double clamp(double x, double low, double high) noexcept {
  return x < low ? low : x > high ? high : x;
}

}  // namespace

double Breathing::most_effort_cmH2O() const noexcept {
  return p_.strength_cmH2O * (1.0 - in_.weakness) * (1.0 - 0.75 * fatigue_);
}

void Breathing::update_drive(const BreathingInput& input, double dt) noexcept {
  in_ = input;
  central_mmHg_ += (in_.paco2_mmHg - central_mmHg_) * clamp(dt / kCentralTau_s, 0.0, 1.0);
  const double fast = clamp(dt / kPeripheralTau_s, 0.0, 1.0);
  peripheral_mmHg_ += (in_.paco2_mmHg - peripheral_mmHg_) * fast;
  peripheral_saturation_ += (in_.saturation - peripheral_saturation_) * fast;
  // Fixed acid moves the set-point down by 1.5 mmHg per mmol/L of bicarbonate lost (the textbook
  // compensation rule, from memory); long retention moves it up.
  const double set =
      clamp(40.0 + in_.retained_co2_mmHg - 1.5 * (24.0 - in_.bicarbonate), 8.0, 80.0);
  const double hypoxia = clamp(97.0 - 100.0 * peripheral_saturation_, 0.0, 40.0);
  const double co2_boost = clamp(1.0 + 0.05 * (peripheral_mmHg_ - set), 0.3, 2.5);
  // Below its set-point CO2 holds little sway over an awake person.
  const double low_co2 = kLowCo2Share + (1.0 - kLowCo2Share) * in_.depression;
  const double central = central_mmHg_ - set, peripheral = peripheral_mmHg_ - set;
  double drive = 1.0 + kCentralGain * central * (central < 0.0 ? low_co2 : 1.0) +
                 kPeripheralGain * peripheral * (peripheral < 0.0 ? low_co2 : 1.0) +
                 kHypoxicGain * hypoxia * co2_boost;
  drive += 1.5 * in_.anxiety + 0.8 * in_.pain + 1.2 * in_.irritation;
  const double awake_floor = 0.55 * in_.arousal * (1.0 - in_.depression);
  drive = clamp(drive, awake_floor, kMostDrive);
  drive *= det::pow(1.0 - 0.97 * in_.depression, 1.1) * in_.brainstem;
  // Very high CO2 stuns the centre.
  drive *= clamp(1.0 - (central_mmHg_ - 100.0) / 80.0, 0.15, 1.0);
  drive_ = drive;
  // Fatigue follows the pressure-time index; recovery is slower (our choice).
  const double reserve = p_.strength_cmH2O * (1.0 - in_.weakness) * in_.muscle_length;
  const double index = 0.6 * amplitude_ / (reserve > 1.0 ? reserve : 1.0) * ti_s_ / breath_s_;
  const double load = index - kFatigueOnset * (in_.saturation > 0.85 ? 1.0 : 0.8);
  fatigue_ = clamp(fatigue_ + dt * (load > 0.0 ? load / 200.0 : -1.0 / 2400.0), 0.0, 0.85);
}

void Breathing::request(Manoeuvre manoeuvre, double duration_s) noexcept {
  requested_ = manoeuvre;
  manoeuvre_for_s_ = duration_s;
  has_request_ = true;
}

void Breathing::plan_breath(double time) noexcept {
  if (has_request_) {
    has_request_ = false;
    manoeuvre_until_s_ = time + manoeuvre_for_s_;
    now_ = requested_;
  } else if (time >= manoeuvre_until_s_ || now_ == Manoeuvre::kCough || now_ == Manoeuvre::kHold ||
             now_ == Manoeuvre::kForced) {
    now_ = Manoeuvre::kTidal;
  }
  const bool is_able = in_.arousal > 0.55 && in_.brainstem > 0.3;
  if (!is_able) now_ = Manoeuvre::kTidal;
  if (now_ == Manoeuvre::kTidal && is_able && in_.coughing > 0.0 && time >= next_cough_s_) {
    now_ = Manoeuvre::kCough;
    next_cough_s_ = time + 90.0 * (1.1 - in_.coughing);
  }
  const double d = drive_ > 1e-3 ? drive_ : 1e-3;
  const double quick = d > 1.0 ? det::pow(d, 0.38) : det::pow(d, 0.55);
  double rate = p_.resting_rate_per_min * quick *
                (1.0 + 0.8 * in_.irritation + 0.4 * in_.pain + 0.45 * in_.anxiety) *
                (1.0 + 0.04 * clamp(in_.fever_C, 0.0, 4.0)) *
                clamp(det::pow(in_.stiffness, 0.22), 0.8, 1.6) *
                clamp(det::pow(in_.resistance / kSlowingLoad, -1.2), 0.3, 1.0) *
                (1.0 + 0.5 * fatigue_) * (1.0 - 0.55 * in_.depression);
  const double most = p_.resting_rate_per_min < 20.0 ? 52.0 : 2.1 * p_.resting_rate_per_min;
  rate = clamp(rate, 1.0, most > 52.0 ? (most < 95.0 ? most : 95.0) : 52.0);
  double effort = p_.resting_effort_cmH2O * det::pow(d, 0.8) * load_gain_ * (1.0 - 0.3 * in_.pain) *
                  (1.0 - 0.25 * in_.irritation);
  breath_s_ = 60.0 / rate;
  ti_s_ = p_.inspired_share * breath_s_;
  if (now_ == Manoeuvre::kDeep) {
    const double slow = clamp(1.35 / det::pow(d, 0.3), 0.8, 1.35);
    breath_s_ *= slow;
    ti_s_ = 0.42 * breath_s_;
    effort *= 2.2;
  } else if (now_ == Manoeuvre::kSpeech || now_ == Manoeuvre::kVowel) {
    ti_s_ = clamp(0.35 * ti_s_, 0.25, 0.7);
    const double phrase =
        (now_ == Manoeuvre::kVowel ? 3.0 : 3.6) * (p_.resting_rate_per_min < 20.0 ? 1.0 : 0.6);
    breath_s_ = ti_s_ + clamp(phrase / det::pow(d, 0.9), 0.5, 4.0);
    effort *= 1.7;
  } else if (now_ == Manoeuvre::kCough) {
    ti_s_ = kCoughIn_s;
    breath_s_ = kCoughIn_s + 2.0 * (kCoughShut_s + kCoughBurst_s) + 0.6;
    effort = 0.3 * most_effort_cmH2O();
  } else if (now_ == Manoeuvre::kHold) {
    breath_s_ = clamp(manoeuvre_for_s_ / det::pow(d, 0.8), 1.5, 30.0) + ti_s_;
  } else if (now_ == Manoeuvre::kForced) {
    ti_s_ = 2.0;
    breath_s_ = 9.0;
    effort = 0.95 * most_effort_cmH2O();
  }
  te_s_ = breath_s_ - ti_s_;
  const double most_effort = (now_ == Manoeuvre::kForced ? 0.95 : 0.9) * most_effort_cmH2O();
  amplitude_ = clamp(effort, 0.0, most_effort);
  // Abdominal muscles join in when the drive is high.
  expiratory_ = clamp(2.0 * (d - 2.0), 0.0, 0.25 * most_effort_cmH2O());
  wanted_L_ = p_.resting_tidal_L * clamp(d / quick, 0.5, 4.0) * (1.0 - 0.5 * in_.irritation) *
              (1.0 - 0.25 * in_.pain) * det::pow(in_.stiffness, -0.3);
}

bool Breathing::advance(double time, double lung_L, double expired) noexcept {
  if (lung_L > high_L_) high_L_ = lung_L;
  if (lung_L < low_L_) low_L_ = lung_L;
  const double since = time - start_s_;
  if (seen_any_) {
    if (in_.brainstem <= 0.02) return false;
    if (since < breath_s_) return false;
    // Vagal deflation reflex: while gas still streams out, the next breath waits, less so under
    // a strong drive.
    const double mean_expired = tidal_L_ / (te_s_ > 0.2 ? te_s_ : 0.2);
    const double patience = 1.0 + 0.5 / (1.0 + 0.5 * drive_);
    if (now_ == Manoeuvre::kTidal && expired > 0.22 * mean_expired &&
        since < patience * breath_s_) {
      return false;
    }
    tidal_L_ = high_L_ - low_L_;
    // Load compensation: an awake person works harder when breaths come out smaller than meant.
    if (in_.is_assisted) {
      load_gain_ = 1.0;
    } else if (now_ == Manoeuvre::kTidal) {
      const double miss = wanted_L_ / (tidal_L_ > 0.05 * wanted_L_ ? tidal_L_ : 0.05 * wanted_L_);
      const double aim = load_gain_ * det::pow(miss, 0.25);
      const double most = 1.0 + 3.5 * in_.arousal * (1.0 - in_.depression);
      load_gain_ = clamp(aim, 0.6, most);
    }
  }
  if (in_.brainstem <= 0.02) return false;
  seen_any_ = true;
  start_s_ = time;
  low_L_ = high_L_ = lung_L;
  plan_breath(time);
  ++breaths_;
  return true;
}

double Breathing::muscle_cmH2O(double time) const noexcept {
  const double t = time - start_s_;
  if (t < 0.0 || breaths_ == 0) return 0.0;
  if (t <= ti_s_) return amplitude_ * t * (breath_s_ - t) / (ti_s_ * te_s_);
  const double late = t - ti_s_;
  if (now_ == Manoeuvre::kCough) {
    const double cycle = kCoughShut_s + kCoughBurst_s;
    const double in_cycle = late < cycle ? late : late < 2.0 * cycle ? late - cycle : -1.0;
    if (in_cycle < 0.0) return 0.0;
    const double push = 0.8 * most_effort_cmH2O();
    if (in_cycle < kCoughShut_s) return -push * in_cycle / kCoughShut_s;
    return -push * (1.0 - (in_cycle - kCoughShut_s) / kCoughBurst_s);
  }
  if (now_ == Manoeuvre::kForced) {
    const double rise = late / 0.08;
    return -0.9 * p_.strength_cmH2O * (rise < 1.0 ? rise : 1.0);
  }
  const double x = late / te_s_;
  if (x >= 1.0) return 0.0;
  constexpr double kRelease = 3.0;               // time constant TE / 3
  constexpr double kEnd = 0.049787068367863944;  // exp(-3)
  const double released = (det::exp(-kRelease * x) - kEnd) / (1.0 - kEnd);
  double p = amplitude_ * released;
  if (expiratory_ > 0.0 && now_ == Manoeuvre::kTidal && x > 0.2) {
    const double y = (x - 0.2) / 0.8;
    p -= 4.0 * expiratory_ * y * (1.0 - y);
  }
  return p;
}

double Breathing::glottis_brake_cmH2O_s_per_L(double time) const noexcept {
  const double late = time - start_s_ - ti_s_;
  if (late < 0.0) return 0.0;
  const double small = 0.45 / p_.resting_tidal_L;  // a child's glottis is smaller
  switch (now_) {
    case Manoeuvre::kSpeech:
      return 14.0 * small;
    case Manoeuvre::kVowel:
      return 20.0 * small;
    case Manoeuvre::kHold:
      return late < breath_s_ - ti_s_ - 0.3 ? kShutGlottis : 0.0;
    case Manoeuvre::kCough: {
      const double cycle = kCoughShut_s + kCoughBurst_s;
      const double in_cycle = late < cycle ? late : late < 2.0 * cycle ? late - cycle : cycle;
      return in_cycle < kCoughShut_s ? kShutGlottis : 0.0;
    }
    default:
      return 0.0;
  }
}

Voice Breathing::voice(double time) const noexcept {
  const bool out = time - start_s_ >= ti_s_;
  if (!out) return Voice::kNone;
  switch (now_) {
    case Manoeuvre::kSpeech:
      return Voice::kSpeech;
    case Manoeuvre::kVowel:
      return Voice::kVowel;
    case Manoeuvre::kHold:
      return Voice::kBreathHold;
    case Manoeuvre::kCough:
      return glottis_brake_cmH2O_s_per_L(time) > 0.0 ? Voice::kNone : Voice::kCough;
    default:
      return Voice::kNone;
  }
}

}  // namespace phren::patient
