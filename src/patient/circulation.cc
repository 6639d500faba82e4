#include "patient/circulation.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kVenousPressure0 = 8.0;  // mean systemic filling pressure
constexpr double kAtrium0 = 2.0;          // mmHg, against air
constexpr double kWedge0 = 8.0;           // mmHg, against air
constexpr double kLungArtery0 = 15.0;
constexpr double kChest0 = -4.0;          // mmHg at which the resting state holds
constexpr double kRightHalf_mmHg = 12.0;  // filling pressure of half the greatest stroke
constexpr double kLeftHalf_mmHg = 10.0;
constexpr double kReflexRate = 1.1;  // share of resting rate per unit sympathetic drive
constexpr double kReflexTone = 1.0;
constexpr double kReflexVeins = 0.65;  // of resting stressed volume mobilised
constexpr double kReflexStrength = 0.5;
// Resistance x compliance of the lung arteries, nearly the same in health and lung hypertension
// (Lankhaar 2008, from memory).
constexpr double kLungArteries_s = 0.7;
// The heart muscle (sizes our choice, see the header).
constexpr double kCoronaryReserve = 3.4;  // flow at full dilation over flow at rest
constexpr double kHeldBack = 0.22;        // saturation at which half is given up
constexpr double kCoronaryShut = 0.22;    // share of the usual pressure at which nothing flows
constexpr double kFlutters = 0.45;        // share of the usual pressure below which muscle is lost
constexpr double kStoreEmpties_s = 320.0, kStoreRefills_s = 45.0;
constexpr double kNodeSlows_s = 25.0, kNodeWakes_s = 20.0;
constexpr double kReflex_s = 3.0;  // the vagus is quick
constexpr double kPulseless_mmHg = 20.0, kPulseless_s = 6.0;
constexpr double kPushed = 0.25;  // output of good compressions, share of rest
constexpr double kPushes_per_min = 110.0;
constexpr double kBreathToSystole = 0.72;  // of the pleural swing (our choice)
constexpr double kPool_s = 8.0;

using det::clamp;

double filling(double pressure, double half) noexcept {
  return pressure > 0.0 ? pressure / (pressure + half) : 0.0;
}

// Strength left at this pH with oxygen enough: 1 above 7.1, 0.8, 0.5, 0.2 at 7.0, 6.8, 6.6.
double strength_at(double ph) noexcept {
  if (ph >= 7.1) return 1.0;
  if (ph >= 7.0) return 0.8 + 2.0 * (ph - 7.0);
  if (ph >= 6.6) return 0.2 + 1.5 * (ph - 6.6);
  return clamp(0.2 + (ph - 6.6), 0.05, 0.2);
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
  const double target =
      clamp(2.4 * error + 0.5 * d.surge + hypercapnia + hypoxia, -0.6, 1.4) * d.brainstem;
  sympathetic_ +=
      (target - sympathetic_) * clamp(dt / (target > sympathetic_ ? 8.0 : 15.0), 0.0, 1.0);
  vagal_ += (clamp(1.2 * error, -0.5, 0.8) * d.brainstem - vagal_) * clamp(dt / 2.0, 0.0, 1.0);
  pooled_ += (d.pooled_L - pooled_) * clamp(dt / kPool_s, 0.0, 1.0);
}

// What the heart muscle gets, against what its rate and pressure cost.
void Circulation::muscle(const CirculationDemand& d, double dt) noexcept {
  const double perfusion = diastolic_mmHg() - (pra_ > 0.0 ? pra_ : 0.0);
  const double usual = p_.diastolic_mmHg - kAtrium0;
  // The last of the oxygen is not given up: S^2 / (S^2 + 0.22^2) of what is carried.
  const double given = d.carried * d.carried / (d.carried * d.carried + kHeldBack * kHeldBack);
  const double supply =
      kCoronaryReserve * (1.0 - 0.3 * d.weakness) * d.carried / 0.97 * given *
      clamp((perfusion / usual - kCoronaryShut) / (1.0 - kCoronaryShut), 0.0, 1.0);
  const double work = rate_ / p_.resting_rate_per_min * map_ / map0_;
  const double met =
      clamp(supply / (0.35 + 0.65 * (work < 1.0 ? work : 1.0 + 0.5 * (work - 1.0))), 0.0, 1.0);
  // What was without supply for long takes it up slowly and not all of it.
  const double hurt = injury_min_ / 4.0;
  const double most = clamp(1.0 - 0.012 * injury_min_ * injury_min_, 0.0, 1.0);
  const double aim = met < most ? met : most;
  const double tau = aim < store_ ? kStoreEmpties_s : kStoreRefills_s * (1.0 + hurt * hurt);
  store_ += (aim - store_) * clamp(dt / tau, 0.0, 1.0);
  if (store_ < 0.45 && met < 0.6) injury_min_ += dt / 60.0 * (0.6 - met) / 0.4;
  // What flutters on moves no blood to itself.
  if (pushed_ <= 0.0) {
    injury_min_ += dt / 60.0 * clamp((kFlutters - map_ / map0_) / 0.15, 0.0, 1.0);
  }
  // The node slows when it is short of oxygen or drowned in acid; while nothing moves the lung the
  // carotid body slows it before that (Daly, from memory).
  const double oxygen = 0.10 + 0.90 * clamp((d.carried - 0.04) / 0.36, 0.0, 1.0);
  const double acid = clamp((d.ph - 6.45) / 0.4, 0.0, 1.0);
  const double still = clamp((d.apnoea_s - 5.0) / 6.0, 0.0, 1.0);
  const double reflex =
      1.0 - p_.apnoea_slowing * still * clamp((0.93 - d.carried) / 0.25, 0.0, 1.0) * d.brainstem;
  still_ += (reflex - still_) * clamp(dt / kReflex_s, 0.0, 1.0);
  const double wanted = oxygen * acid * clamp(store_ / 0.35, 0.0, 1.0);
  node_ += (wanted - node_) * clamp(dt / (wanted < node_ ? kNodeSlows_s : kNodeWakes_s), 0.0, 1.0);
}

void Circulation::heart(const CirculationDemand& d) noexcept {
  const double r0 = p_.resting_rate_per_min;
  const double desaturation = clamp(97.0 - 100.0 * d.saturation, 0.0, 45.0);
  const double reflex = kReflexRate * (0.6 * sympathetic_ + 0.4 * vagal_);
  double rate = r0 * (1.0 + clamp(reflex, -0.35, 1.2)) + desaturation * 0.98 * (r0 / 72.0) +
                d.added_rate_per_min;
  // A heart near its limit does not reach it in a straight line.
  const double top = p_.greatest_rate_per_min, bend = r0 + 0.7 * (top - r0);
  if (rate > bend) rate = bend + (top - bend) * (1.0 - det::exp(-(rate - bend) / (top - bend)));
  rate = clamp(rate, 0.35 * r0, top) * node_ * still_;
  rate_ = node_ < 0.06 ? 0.0 : rate;
  const double calm =
      clamp(1.0 - 1.2 * (sympathetic_ > 0.0 ? sympathetic_ : 0.0), 0.0, 1.0) * node_;
  const double slow = clamp(12.0 / (d.breaths_per_min > 6.0 ? d.breaths_per_min : 6.0), 0.2, 1.2);
  sinus_ = p_.sinus_arrhythmia_per_min * clamp(d.inflation, -1.5, 2.0) * slow * calm;
  if (sinus_ < -0.5 * rate_) sinus_ = -0.5 * rate_;
  const double quick = rate_ / r0;
  // Short diastole leaves less filling time.
  const double fill_time = clamp(1.15 - 0.15 * quick * quick / 1.5, 0.45, 1.15);
  const double fed = clamp((store_ - 0.08) / 0.72, 0.0, 1.0);
  const double strength =
      (1.0 + kReflexStrength * clamp(sympathetic_, -0.08, 1.2) + 0.5 * d.stronger) *
      det::pow(fed > 1e-6 ? fed : 1e-6, 1.3) * det::pow(strength_at(d.ph), 1.0 + 2.0 * (1.0 - fed));
  const double inside = atrium_ / atrium_compliance_;  // transmural
  const double right_filling =
      filling(inside, kRightHalf_mmHg) / filling(kAtrium0 - kChest0, kRightHalf_mmHg);
  const double strain = clamp((mpap_ - d.chest_pressure_mmHg - 26.0) / 22.0, 0.0, 4.0);
  const double right_stroke =
      stroke0_ * right_filling * strength * fill_time / (1.0 + strain * strain);
  const double left_filling = filling(wedge_ - d.pericardial_mmHg, kLeftHalf_mmHg) /
                              filling(kWedge0 - kChest0, kLeftHalf_mmHg);
  // Afterload is wall tension: arterial pressure less the chest's, worse for a weak ventricle.
  const double load = clamp((map_ - d.chest_pressure_mmHg) / (map0_ - kChest0) - 1.0, -0.6, 2.0);
  const double afterload = 1.0 / (1.0 + (0.35 + 1.1 * d.weakness) * clamp(load, -0.5, 2.0));
  // A weak ventricle loses strength as it beats faster (Hasenfuss 1994, from memory; size our choice).
  const double hurried = 1.0 + 1.1 * d.weakness * (quick > 1.2 ? quick - 1.2 : 0.0);
  const double left_stroke =
      stroke0_ * left_filling * strength * fill_time * afterload * (1.0 - d.weakness) / hurried;
  right_ = right_stroke * rate_ / 60.0;
  left_ = left_stroke * rate_ / 60.0;
  // Hands on the chest push what lies in it; a full chest gives more.
  pushed_ = 0.0;
  if (d.compressions > 0.0) {
    const double q = kPushed * p_.resting_output_L_per_s * clamp(d.compressions, 0.0, 1.2);
    const double right = q * clamp(right_filling, 0.0, 1.2),
                 left = q * clamp(left_filling, 0.0, 1.2);
    if (right > right_) right_ = right;
    if (left > left_) pushed_ = left_ = left;
  }
}

void Circulation::vessels(const CirculationDemand& d, double dt) noexcept {
  const double s = clamp(sympathetic_, -0.5, 1.4);
  // Vessels that are held open do not answer the nerves; acid and want of oxygen open them too.
  const double free = clamp(1.0 - 1.6 * d.vasodilation, 0.0, 1.0);
  const double veins_free = clamp(1.0 - 1.2 * d.vasodilation, 0.0, 1.0);
  const double starved = (1.0 - 0.25 * clamp((7.15 - d.ph) / 0.4, 0.0, 1.0)) *
                         (1.0 - 0.35 * clamp(d.oxygen_deficit, 0.0, 1.0)) *
                         (1.0 - 0.20 * clamp((0.88 - d.carried) / 0.5, 0.0, 1.0));
  // Full atria loosen the vessels, empty ones tighten them (low-pressure receptors, size our choice).
  const double full =
      clamp(1.0 - 0.12 * (atrium_ / atrium_compliance_ - (kAtrium0 - kChest0)), 0.65, 1.15);
  const double tone = full * (1.0 + kReflexTone * s * free + 0.8 * d.vasoconstriction) *
                      (1.0 - 0.85 * d.vasodilation) * starved;
  const double pulled = clamp(tone, 0.12, 4.0);
  resistance_ = resistance0_ * pulled;
  // Tone squeezes the veins; vasodilation lets them hold more; the legs take what gravity gives.
  const double stressed0 = veins_compliance_ * kVenousPressure0;
  const double unstressed =
      veins_unstressed_ + pooled_ +
      stressed0 * (0.34 * d.vasodilation - kReflexVeins * (s > 0.0 ? s : 0.3 * s) * veins_free -
                   0.3 * d.vasoconstriction);
  const double venous = clamp((veins_ - unstressed) / veins_compliance_, 0.0, 60.0);
  pra_ = atrium_ / atrium_compliance_ + d.chest_pressure_mmHg + d.pericardial_mmHg;
  // Veins collapse at the thoracic inlet when the atrium sucks.
  const double back = pra_ > -1.5 ? pra_ : -1.5;
  const double obstruction = 1.0 + 1.6 * d.great_vein_kink;
  // Wide vessels let blood run back more easily too (Guyton; size our choice).
  const double way_back = venous_resistance_ * (1.0 - 0.7 * d.vasodilation * d.vasodilation);
  double venous_return = (venous - back) / (way_back * obstruction);
  if (venous_return < 0.0) venous_return = 0.0;
  // Above a kink at the chest's inlet the neck veins stand fuller than the atrium.
  jugular_ = back + venous_return * way_back * (obstruction - 1.0);
  wedge_ = lung_veins_ / lung_compliance_;
  // The lung arteries yield, so their pressure follows the flow with a delay; without it the right
  // ventricle would flutter against its own afterload from step to step.
  const double drop = right_ * lung_resistance0_ * d.lung_vessel_resistance;
  lung_drop_ += (drop - lung_drop_) * clamp(dt / kLungArteries_s, 0.0, 1.0);
  mpap_ = wedge_ + d.chest_pressure_mmHg + lung_drop_;
  map_ = arteries_ / arteries_compliance_;
  // A bag so tight that nothing gets past it does not hold the arteries up.
  const double against = clamp(pra_, 0.0, venous);
  double run_off = (map_ - against) / resistance_;
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
}

void Circulation::step(const CirculationDemand& d, double dt) noexcept {
  reflexes(d, dt);
  muscle(d, dt);
  heart(d);
  vessels(d, dt);
  // Inspiration loads the left ventricle and holds blood in the lung; a tight pericardium makes the
  // two ventricles share one space.
  breath_swing_ = paradoxus_mmHg(d.breath_mmHg, d.pericardial_mmHg);
  const bool is_flat = map_ < kPulseless_mmHg || rate_ < 5.0 || pushed_ > 0.0;
  low_pressure_s_ = is_flat ? low_pressure_s_ + dt : 0.0;
  arrested_ = low_pressure_s_ > kPulseless_s;
}

void Circulation::bleed(double volume_L) noexcept {
  const double v = clamp(volume_L, -0.5 * veins_, 0.5 * veins_);
  veins_ -= v;
  lost_ += v;
}

bool Circulation::advance_beat(double dt) noexcept {
  since_beat_ += dt;
  const double rate = rate_per_min();
  if (rate < 1.0) return false;
  beat_phase_ += dt * rate / 60.0;
  if (beat_phase_ < 1.0) return false;
  beat_phase_ -= 1.0;
  since_beat_ = beat_phase_ * 60.0 / rate;
  ++beats_;
  return true;
}

double Circulation::paradoxus_mmHg(double swing, double pericardial) const noexcept {
  const double alive = clamp(map_ / map0_, 0.0, 1.0);
  // A beat cannot lose more than its stroke, nor gain more than half of one from its neighbour.
  const double pulse = stroke_volume_L() / arteries_compliance_;
  const double shared = 6.3 * clamp(pericardial / 12.0, 0.0, 1.0) * swing * alive;
  return kBreathToSystole * swing * alive + clamp(shared, -pulse, 0.5 * pulse);
}

double Circulation::stroke_volume_L() const noexcept {
  const double rate = pushed_ > 0.0 ? kPushes_per_min : rate_;
  return rate > 1.0 ? left_ * 60.0 / rate : 0.0;
}

double Circulation::systolic_mmHg() const noexcept {
  const double pulse =
      stroke_volume_L() / arteries_compliance_ * clamp(0.7 + 0.3 * map_ / map0_, 0.7, 1.6);
  const double s = map_ + pulse * 2.0 / 3.0 + breath_swing_;
  return s > map_ ? s : map_;
}

double Circulation::diastolic_mmHg() const noexcept {
  const double pulse =
      stroke_volume_L() / arteries_compliance_ * clamp(0.7 + 0.3 * map_ / map0_, 0.7, 1.6);
  const double d = map_ - pulse / 3.0;
  return d > 0.0 ? d : 0.0;
}

}  // namespace phren::patient
