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
constexpr double kRhythm = 0.15;        // share of the brainstem below which there is none
constexpr double kFirstGasp_s = 25.0;
constexpr std::uint32_t kUpdatesPerSecond = 16;

using det::clamp;

double most_of(double a, double b, double c) noexcept {
  const double two = a > b ? a : b;
  return two > c ? two : c;
}

}  // namespace

Breathing::Breathing(const BreathingParameters& parameters) noexcept : p_(parameters) {
  central_mmHg_ = peripheral_mmHg_ = p_.resting_paco2_mmHg;
  news_mmHg_.fill(p_.resting_paco2_mmHg);
  news_saturation_.fill(0.97);
}

double Breathing::most_effort_cmH2O() const noexcept {
  return p_.strength_cmH2O * (1.0 - in_.weakness) * (1.0 - 0.75 * fatigue_) *
         (0.6 + 0.4 * in_.muscle_supply);
}

// What carbon dioxide, acid and oxygen ask for.
double Breathing::chemical_drive() const noexcept {
  // Fixed acid moves the set-point down by 1.5 mmHg per mmol/L of bicarbonate lost (the textbook
  // compensation rule, from memory); long retention moves it up and dulls the answer.
  const double set =
      clamp(p_.resting_paco2_mmHg + in_.retained_co2_mmHg - 1.5 * in_.bicarbonate_lost, 8.0, 90.0);
  const double dulled = (1.0 + 3.0 * in_.periodic) / (1.0 + in_.retained_co2_mmHg / 5.0);
  const double used_to = 97.0 - 0.3 * in_.retained_co2_mmHg;
  const double hypoxia = clamp(used_to - 100.0 * peripheral_saturation_, 0.0, 40.0);
  const double co2_boost = clamp(1.0 + 0.05 * (peripheral_mmHg_ - set), 0.6, 2.5);
  // Below its set-point CO2 holds little sway over an awake person.
  const double low_co2 =
      kLowCo2Share + (1.0 - kLowCo2Share) * most_of(in_.depression, in_.periodic,
                                                    clamp(in_.retained_co2_mmHg / 20.0, 0.0, 1.0));
  const double central = central_mmHg_ - set, peripheral = peripheral_mmHg_ - set;
  return 1.0 + dulled * (kCentralGain * central * (central < 0.0 ? low_co2 : 1.0) +
                         kPeripheralGain * peripheral * (peripheral < 0.0 ? low_co2 : 1.0) +
                         kHypoxicGain * hypoxia * co2_boost);
}

void Breathing::update_drive(const BreathingInput& input, double dt) noexcept {
  in_ = input;
  // Blood brings its news late.
  if (updates_++ % kUpdatesPerSecond == 0) {
    news_at_ = (news_at_ + 1u) % 64u;
    news_mmHg_[news_at_] = in_.paco2_mmHg;
    news_saturation_[news_at_] = in_.saturation;
  }
  const auto late = static_cast<std::uint32_t>(clamp(in_.news_s, 0.0, 60.0));
  const double paco2 = late > 0 ? news_mmHg_[(news_at_ + 64u - late) % 64u] : in_.paco2_mmHg;
  const double sat = late > 0 ? news_saturation_[(news_at_ + 64u - late) % 64u] : in_.saturation;
  const double slow = kCentralTau_s * (1.0 - 0.6 * in_.periodic);
  central_mmHg_ += (paco2 - central_mmHg_) * clamp(dt / slow, 0.0, 1.0);
  const double fast = clamp(dt / kPeripheralTau_s, 0.0, 1.0);
  peripheral_mmHg_ += (paco2 - peripheral_mmHg_) * fast;
  peripheral_saturation_ += (sat - peripheral_saturation_) * fast;
  double drive = chemical_drive();
  // Fear and pain need a waking mind.
  drive += in_.arousal * (1.5 * in_.anxiety + 0.8 * in_.pain) + 1.2 * in_.irritation;
  const double awake_floor = 0.55 * in_.arousal * (1.0 - in_.depression) * (1.0 - in_.periodic);
  const double willed = in_.willed > 0.0 ? 1.0 + 1.5 * in_.willed * in_.arousal : 0.0;
  if (drive < willed) drive = willed;
  drive = clamp(drive, awake_floor, kMostDrive);
  drive *= det::pow(1.0 - 0.97 * in_.depression, 1.1) * in_.brainstem;
  // Very high CO2 stuns the centre.
  drive *= clamp(1.0 - (central_mmHg_ - 100.0 - in_.retained_co2_mmHg) / 80.0, 0.15, 1.0);
  drive_ = drive;
  tire(dt);
}

// Fatigue follows the tension-time index; hunger of the muscle lowers what can be kept up.
// Recovery is slower (our choice).
void Breathing::tire(double dt) noexcept {
  const double reserve = p_.strength_cmH2O * (1.0 - in_.weakness) * in_.muscle_length *
                         (0.6 + 0.4 * in_.muscle_supply);
  const double index = 0.6 * amplitude_ / (reserve > 1.0 ? reserve : 1.0) * ti_s_ / breath_s_;
  const double load = index - kFatigueOnset * (0.55 + 0.45 * in_.muscle_supply);
  // A diaphragm used to load for years gives up less of its strength (our choice).
  const double most = 0.92 - 0.03 * (in_.retained_co2_mmHg < 15.0 ? in_.retained_co2_mmHg : 15.0);
  fatigue_ = clamp(fatigue_ + dt * (load > 0.0 ? load / 130.0 : -1.0 / 2400.0), 0.0, most);
}

void Breathing::request(Manoeuvre manoeuvre, double duration_s) noexcept {
  requested_ = manoeuvre;
  manoeuvre_for_s_ = duration_s;
  has_request_ = true;
}

Breathing::CoughTimes Breathing::cough_times() const noexcept {
  const double grown = clamp(p_.age_years / 14.0, 0.0, 1.0);
  return {0.30 + 0.20 * grown, 0.12 + 0.08 * grown, 0.18 + 0.12 * grown};
}

double Breathing::in_cough_s(double late) const noexcept {
  const CoughTimes t = cough_times();
  const int n = static_cast<int>(late / t.cycle_s());
  return n < coughs() ? late - n * t.cycle_s() : -1.0;
}

void Breathing::choose_manoeuvre(double time) noexcept {
  const bool was_paroxysm = now_ == Manoeuvre::kParoxysm;
  if (has_request_) {
    has_request_ = false;
    manoeuvre_until_s_ = time + manoeuvre_for_s_;
    now_ = requested_;
  } else if (time >= manoeuvre_until_s_ || now_ == Manoeuvre::kCough || now_ == Manoeuvre::kHold ||
             now_ == Manoeuvre::kForced || now_ >= Manoeuvre::kGasp) {
    now_ = Manoeuvre::kTidal;
  }
  const bool is_able = in_.arousal > 0.55 && in_.brainstem > 0.3;
  if (!is_able) now_ = Manoeuvre::kTidal;
  if (now_ != Manoeuvre::kTidal || !is_able) return;
  if (was_paroxysm && p_.age_years > 0.4) {  // small infants seldom whoop
    now_ = Manoeuvre::kWhoop;
  } else if (in_.paroxysms > 0.0 && time >= next_paroxysm_s_) {
    now_ = Manoeuvre::kParoxysm;
    next_paroxysm_s_ = time + 420.0 - 330.0 * in_.paroxysms;
  } else if (in_.coughing > 0.0 && time >= next_cough_s_) {
    now_ = Manoeuvre::kCough;
    next_cough_s_ = time + 110.0 * (1.2 - in_.coughing);
  }
}

void Breathing::shape_manoeuvre(double d, double& effort) noexcept {
  const CoughTimes t = cough_times();
  switch (now_) {
    case Manoeuvre::kDeep:
      breath_s_ *= clamp(1.35 / det::pow(d, 0.3), 0.8, 1.35);
      ti_s_ = 0.42 * breath_s_;
      effort *= 2.2;
      break;
    case Manoeuvre::kSpeech:
    case Manoeuvre::kVowel: {
      ti_s_ = clamp(0.35 * ti_s_, 0.25, 0.7);
      const double phrase =
          (now_ == Manoeuvre::kVowel ? 3.0 : 3.6) * (p_.resting_rate_per_min < 20.0 ? 1.0 : 0.6);
      breath_s_ = ti_s_ + clamp(phrase / det::pow(d, 0.9), 0.5, 4.0);
      effort *= 1.7;
      break;
    }
    case Manoeuvre::kCough:
    case Manoeuvre::kParoxysm:
      ti_s_ = t.in_s;
      breath_s_ = t.in_s + coughs() * t.cycle_s() + 0.3;
      effort = 0.3 * most_effort_cmH2O();
      break;
    case Manoeuvre::kWhoop:
      ti_s_ = 0.9;
      breath_s_ = 2.2;
      effort = 0.5 * most_effort_cmH2O();
      break;
    case Manoeuvre::kHold:
      breath_s_ = clamp(manoeuvre_for_s_ / det::pow(d, 0.8), 1.5, 30.0) + ti_s_;
      break;
    case Manoeuvre::kForced:
      ti_s_ = 2.0;
      breath_s_ = 9.0;
      effort = 0.95 * most_effort_cmH2O();
      break;
    case Manoeuvre::kTidal:
    case Manoeuvre::kGasp:
      break;
  }
}

void Breathing::plan_breath(double time) noexcept {
  choose_manoeuvre(time);
  const double d = drive_ > 1e-3 ? drive_ : 1e-3;
  const double quick = d > 1.0 ? det::pow(d, 0.38) : det::pow(d, 0.55);
  // A tiring muscle takes small fast breaths first and slow ones in the end.
  const double tired =
      1.0 + 0.5 * (fatigue_ < 0.6 ? fatigue_ : 0.6) - 1.6 * (fatigue_ > 0.6 ? fatigue_ - 0.6 : 0.0);
  const double fear = in_.arousal;
  double rate = p_.resting_rate_per_min * quick *
                (1.0 + 0.8 * in_.irritation + fear * (0.4 * in_.pain + 0.45 * in_.anxiety)) *
                (1.0 + 0.04 * clamp(in_.fever_C, 0.0, 4.0)) *
                clamp(det::pow(in_.stiffness, 0.22), 0.8, 1.6) *
                clamp(det::pow(in_.resistance / kSlowingLoad, -1.2), 0.3, 1.0) * tired *
                (1.0 - 0.55 * in_.depression);
  const double most = p_.resting_rate_per_min < 20.0 ? 52.0 : 2.1 * p_.resting_rate_per_min;
  rate = clamp(rate, 1.0, most > 52.0 ? (most < 95.0 ? most : 95.0) : 52.0);
  double effort = p_.resting_effort_cmH2O * det::pow(d, 0.8) * load_gain_ *
                  (1.0 - 0.45 * fear * in_.pain) * (1.0 - 0.25 * in_.irritation);
  breath_s_ = 60.0 / rate;
  ti_s_ = p_.inspired_share * breath_s_;
  shape_manoeuvre(d, effort);
  if (now_ == Manoeuvre::kTidal) {
    if (time >= next_sigh_s_) {  // adults about ten an hour, infants one in seventy breaths
      next_sigh_s_ = time + (p_.age_years < 1.0 ? 100.0 : 380.0);
      if (d < 1.8 && !in_.is_assisted) effort *= 1.9;
    }
    if (in_.apnoeas > 0.0 && time >= next_pause_s_ && !in_.is_assisted) {
      const double often = in_.apnoeas * in_.apnoeas;
      breath_s_ = ti_s_ + 10.0 + 12.0 * in_.apnoeas + 14.0 * often * often;
      next_pause_s_ = time + 160.0 - 110.0 * in_.apnoeas;
    }
  }
  BreathChange change;
  if (now_ == Manoeuvre::kTidal) {
    change = variability_.next();
    effort *= change.effort;
    const double expiration_s = (breath_s_ - ti_s_) * change.expiration;
    ti_s_ *= change.inspiration;
    breath_s_ = ti_s_ + expiration_s;
  }
  te_s_ = breath_s_ - ti_s_;
  // Who has long kept back CO2 lets it rise rather than tire (rapid shallow breathing; our choice).
  const double wise = clamp(in_.retained_co2_mmHg / 24.0, 0.0, 0.5);
  if (now_ == Manoeuvre::kTidal && wise > 0.0) {
    const double kept_up = kFatigueOnset * p_.strength_cmH2O * (1.0 - in_.weakness) *
                           in_.muscle_length * (0.6 + 0.4 * in_.muscle_supply) * breath_s_ /
                           (0.6 * ti_s_);
    if (effort > kept_up) effort -= wise * (effort - kept_up);
  }
  const double most_effort = (now_ == Manoeuvre::kForced ? 0.95 : 0.9) * most_effort_cmH2O();
  amplitude_ = clamp(effort, 0.0, most_effort);
  // Abdominal muscles join in when the drive is high.
  expiratory_ = clamp(2.0 * (d - 2.0), 0.0, 0.25 * most_effort_cmH2O());
  wanted_L_ = p_.resting_tidal_L * clamp(d / quick, 0.5, 4.0) * (1.0 - 0.5 * in_.irritation) *
              (1.0 - 0.45 * fear * in_.pain) * det::pow(in_.stiffness, -0.65) * change.effort;
}

// No rhythm: after a pause short, strong breaths far apart, slower until their centre is spent.
// Opioids and sleep drugs silence the centre of the gasps too (from memory).
bool Breathing::gasp(double time, double lung_L) noexcept {
  const double strength = in_.gasping * (1.0 - in_.depression);
  if (strength <= 0.05) return false;
  const double pause =
      now_ == Manoeuvre::kGasp ? 60.0 / (2.0 + 3.5 * strength) : breath_s_ + kFirstGasp_s;
  if (seen_any_ && time - start_s_ < pause) return false;
  seen_any_ = true;
  now_ = Manoeuvre::kGasp;
  tidal_L_ = high_L_ - low_L_;
  low_L_ = high_L_ = lung_L;
  start_s_ = time;
  ti_s_ = 0.6;
  breath_s_ = 2.4;
  te_s_ = breath_s_ - ti_s_;
  amplitude_ = (0.25 + 0.35 * strength) * most_effort_cmH2O();
  expiratory_ = 0.0;
  load_gain_ = 1.0;
  ++breaths_;
  return true;
}

bool Breathing::advance(double time, double lung_L, double expired) noexcept {
  if (lung_L > high_L_) high_L_ = lung_L;
  if (lung_L < low_L_) low_L_ = lung_L;
  if (in_.brainstem < kRhythm) return gasp(time, lung_L);
  const double since = time - start_s_;
  if (seen_any_) {
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
  if (now_ == Manoeuvre::kCough || now_ == Manoeuvre::kParoxysm) {
    const double in_cycle = in_cough_s(late);
    if (in_cycle < 0.0) return 0.0;
    const CoughTimes times = cough_times();
    const double push = 0.8 * most_effort_cmH2O();
    if (in_cycle < times.shut_s) return -push * in_cycle / times.shut_s;
    return -push * (1.0 - (in_cycle - times.shut_s) / times.burst_s);
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
    case Manoeuvre::kCough:
    case Manoeuvre::kParoxysm: {
      const double in_cycle = in_cough_s(late);
      return in_cycle >= 0.0 && in_cycle < cough_times().shut_s ? kShutGlottis : 0.0;
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
    case Manoeuvre::kParoxysm:
      return in_cough_s(time - start_s_ - ti_s_) < 0.0 ? Voice::kNone
             : glottis_brake_cmH2O_s_per_L(time) > 0.0 ? Voice::kNone
                                                       : Voice::kCough;
    default:
      return Voice::kNone;
  }
}

}  // namespace phren::patient
