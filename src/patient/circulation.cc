#include "patient/circulation.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kVenousPressure0 = 8.0;  // mean systemic filling pressure
constexpr double kAtrium0 = 2.0;          // mmHg, against air
constexpr double kWedge0 = 8.0;           // mmHg, against air
constexpr double kLungArtery0 = 15.0;
constexpr double kChest0 = -4.0;         // mmHg at which the resting state holds
constexpr double kRightHalf_mmHg = 5.0;  // filling pressure of half the greatest stroke
constexpr double kLeftHalf_mmHg = 10.0;
constexpr double kReflexRate = 1.1;  // share of resting rate per unit sympathetic drive
constexpr double kReflexTone = 1.0;
constexpr double kReflexVeins = 0.65;  // of resting stressed volume mobilised
constexpr double kReflexStrength = 0.5;
// Resistance x compliance of the lung arteries, nearly the same in health and lung hypertension
// (Lankhaar 2008, from memory).
constexpr double kLungArteries_s = 0.7;
constexpr double kArrestPressure_mmHg = 22.0;
constexpr double kArrestAfter_s = 45.0;

double clamp(double x, double low, double high) noexcept {
  return x < low ? low : x > high ? high : x;
}

double filling(double pressure, double half) noexcept {
  return pressure > 0.0 ? pressure / (pressure + half) : 0.0;
}

}  // namespace

Circulation::Circulation(const CirculationParameters& parameters) noexcept : p_(parameters) {
  const double q = p_.resting_output_L_per_s;
  const double w = p_.weight_kg / 70.0;
  stroke0_ = q * 60.0 / p_.resting_rate_per_min;
  map0_ = p_.diastolic_mmHg + (p_.systolic_mmHg - p_.diastolic_mmHg) / 3.0;
  pulse0_ = p_.systolic_mmHg - p_.diastolic_mmHg;
  resistance0_ = (map0_ - kAtrium0) / q;
  venous_resistance_ = (kVenousPressure0 - kAtrium0) / q;
  lung_resistance0_ = (kLungArtery0 - kWedge0) / q;
  arteries_compliance_ = stroke0_ / pulse0_;
  veins_compliance_ = 0.17 * w;
  atrium_compliance_ = 0.010 * w;
  lung_compliance_ = 0.022 * w;
  veins_ = p_.blood_L - (atrium_compliance_ * (kAtrium0 - kChest0) +
                         lung_compliance_ * (kWedge0 - kChest0) + arteries_compliance_ * map0_);
  veins_unstressed_ = veins_ - veins_compliance_ * kVenousPressure0;
  atrium_ = atrium_compliance_ * (kAtrium0 - kChest0);
  lung_veins_ = lung_compliance_ * (kWedge0 - kChest0);
  arteries_ = arteries_compliance_ * map0_;
  left_ = right_ = q;
  map_ = map0_;
  pra_ = kAtrium0;
  wedge_ = kWedge0 - kChest0;
  lung_drop_ = kLungArtery0 - kWedge0;
  mpap_ = kLungArtery0;
  resistance_ = resistance0_;
  rate_ = p_.resting_rate_per_min;
}

void Circulation::reflexes(const CirculationDemand& d, double dt) noexcept {
  // The baroreflex sees mean pressure; fear, surge, hypercapnia and hypoxia add to its output.
  const double set = map0_ * (1.0 + 0.45 * (d.surge < 1.0 ? d.surge : 1.0));  // alarm resets it
  const double error = clamp((set - map_) / map0_, -0.5, 0.8);
  const double hypercapnia = clamp((d.paco2_mmHg - 45.0) / 60.0, 0.0, 0.5);
  const double hypoxia = clamp((0.90 - d.saturation) * 1.2, 0.0, 0.4);
  const double target = clamp(2.4 * error + 0.5 * d.surge + hypercapnia + hypoxia, -0.6, 1.4);
  sympathetic_ +=
      (target - sympathetic_) * clamp(dt / (target > sympathetic_ ? 8.0 : 15.0), 0.0, 1.0);
  vagal_ += (clamp(1.2 * error, -0.5, 0.8) - vagal_) * clamp(dt / 2.0, 0.0, 1.0);
  // A heart without oxygen slows and weakens within a minute or two, and recovers if fed in time.
  const double starved = clamp((0.52 - d.saturation) / 0.22, 0.0, 1.0);
  const double pressure_short = clamp((0.45 - map_ / map0_) / 0.25, 0.0, 1.0);
  const double wanted = 1.0 - clamp(starved + 0.8 * pressure_short + d.oxygen_deficit, 0.0, 1.0);
  const double tau = wanted < vigour_ ? 60.0 : 25.0;
  vigour_ += (wanted - vigour_) * clamp(dt / tau, 0.0, 1.0);
}

void Circulation::heart(const CirculationDemand& d) noexcept {
  const double r0 = p_.resting_rate_per_min;
  const double desaturation = clamp(97.0 - 100.0 * d.saturation, 0.0, 45.0);
  const double reflex = kReflexRate * (0.6 * sympathetic_ + 0.4 * vagal_);
  double rate = r0 * (1.0 + clamp(reflex, -0.35, 1.2)) + desaturation * 0.98 * (r0 / 72.0) +
                d.added_rate_per_min;
  const double top = 215.0 - 0.55 * 30.0;  // about the fastest sinus rhythm
  rate = clamp(rate, 0.35 * r0, top > 1.25 * r0 ? top : 1.25 * r0);
  rate_ = arrested_ ? 0.0 : rate * (0.15 + 0.85 * vigour_ * (2.0 - vigour_));
  const double quick = rate_ / r0;
  // Short diastole leaves less filling time.
  const double fill_time = clamp(1.15 - 0.15 * quick * quick / 1.5, 0.45, 1.15);
  const double strength =
      (1.0 + kReflexStrength * clamp(sympathetic_, -0.3, 1.2) + 0.5 * d.stronger) *
      (0.2 + 0.8 * vigour_);
  const double inside = atrium_ / atrium_compliance_;  // transmural
  const double right_filling =
      filling(inside, kRightHalf_mmHg) / filling(kAtrium0 - kChest0, kRightHalf_mmHg);
  const double strain = clamp((mpap_ - d.chest_pressure_mmHg - 26.0) / 22.0, 0.0, 4.0);
  const double right_stroke =
      stroke0_ * right_filling * strength * fill_time / (1.0 + strain * strain);
  const double left_filling =
      filling(wedge_, kLeftHalf_mmHg) / filling(kWedge0 - kChest0, kLeftHalf_mmHg);
  // Afterload is wall tension: arterial pressure less the chest's, worse for a weak ventricle.
  const double load = clamp((map_ - d.chest_pressure_mmHg) / (map0_ - kChest0) - 1.0, -0.6, 2.0);
  const double afterload = 1.0 / (1.0 + (0.35 + 1.1 * d.weakness) * clamp(load, -0.5, 2.0));
  const double left_stroke =
      stroke0_ * left_filling * strength * fill_time * afterload * (1.0 - d.weakness);
  right_ = arrested_ ? 0.0 : right_stroke * rate_ / 60.0;
  left_ = arrested_ ? 0.0 : left_stroke * rate_ / 60.0;
}

void Circulation::step(const CirculationDemand& d, double dt) noexcept {
  reflexes(d, dt);
  heart(d);
  const double s = clamp(sympathetic_, -0.5, 1.4);
  const double tone =
      (1.0 + kReflexTone * s + 0.8 * d.vasoconstriction) * (1.0 - 0.75 * d.vasodilation);
  resistance_ = resistance0_ * clamp(tone, 0.15, 4.0);
  // Tone squeezes the veins; vasodilation lets them hold more.
  const double stressed0 = veins_compliance_ * kVenousPressure0;
  const double unstressed =
      veins_unstressed_ +
      stressed0 * (0.75 * d.vasodilation - kReflexVeins * s - 0.3 * d.vasoconstriction);
  const double venous = clamp((veins_ - unstressed) / veins_compliance_, 0.0, 60.0);
  pra_ = atrium_ / atrium_compliance_ + d.chest_pressure_mmHg;
  // Veins collapse at the thoracic inlet when the atrium sucks.
  const double back = pra_ > -1.5 ? pra_ : -1.5;
  const double obstruction = 1.0 + 1.6 * d.great_vein_kink;
  double venous_return = (venous - back) / (venous_resistance_ * obstruction);
  if (venous_return < 0.0) venous_return = 0.0;
  // Above a kink at the chest's inlet the neck veins stand fuller than the atrium.
  jugular_ = back + venous_return * venous_resistance_ * (obstruction - 1.0);
  wedge_ = lung_veins_ / lung_compliance_;
  // The lung arteries yield, so their pressure follows the flow with a delay; without it the right
  // ventricle would flutter against its own afterload from step to step.
  const double drop = right_ * lung_resistance0_ * d.lung_vessel_resistance;
  lung_drop_ += (drop - lung_drop_) * clamp(dt / kLungArteries_s, 0.0, 1.0);
  mpap_ = wedge_ + d.chest_pressure_mmHg + lung_drop_;
  map_ = arteries_ / arteries_compliance_;
  double run_off = (map_ - (pra_ > 0.0 ? pra_ : 0.0)) / resistance_;
  if (run_off < 0.0) run_off = 0.0;
  // Nothing may leave a compartment that holds nothing.
  const double right = clamp(right_, 0.0, 0.5 * atrium_ / dt);
  const double left = clamp(left_, 0.0, 0.5 * lung_veins_ / dt);
  run_off = clamp(run_off, 0.0, 0.5 * arteries_ / dt);
  venous_return = clamp(venous_return, 0.0, 0.2 * veins_ / dt);
  const double leak = clamp(d.plasma_leak_L_per_s, 0.0, 0.01 * veins_ / dt);
  veins_ += dt * (run_off - venous_return - leak);
  lost_ += dt * leak;
  atrium_ += dt * (venous_return - right);
  lung_veins_ += dt * (right - left);
  arteries_ += dt * (left - run_off);
  right_ = right;
  left_ = left;
  map_ = arteries_ / arteries_compliance_;
  low_pressure_s_ = map_ < kArrestPressure_mmHg || rate_ < 15.0 ? low_pressure_s_ + dt : 0.0;
  if (low_pressure_s_ > kArrestAfter_s) arrested_ = true;
}

void Circulation::bleed(double volume_L) noexcept {
  const double v = clamp(volume_L, -0.5 * veins_, 0.5 * veins_);
  veins_ -= v;
  lost_ += v;
}

bool Circulation::advance_beat(double dt) noexcept {
  since_beat_ += dt;
  if (rate_ < 1.0) return false;
  beat_phase_ += dt * rate_ / 60.0;
  if (beat_phase_ < 1.0) return false;
  beat_phase_ -= 1.0;
  since_beat_ = beat_phase_ * 60.0 / rate_;
  ++beats_;
  return true;
}

double Circulation::systolic_mmHg() const noexcept {
  const double pulse =
      stroke_volume_L() / arteries_compliance_ * clamp(0.7 + 0.3 * map_ / map0_, 0.7, 1.6);
  return map_ + pulse * 2.0 / 3.0;
}

double Circulation::diastolic_mmHg() const noexcept {
  const double pulse =
      stroke_volume_L() / arteries_compliance_ * clamp(0.7 + 0.3 * map_ / map0_, 0.7, 1.6);
  const double d = map_ - pulse / 3.0;
  return d > 0.0 ? d : 0.0;
}

}  // namespace phren::patient
