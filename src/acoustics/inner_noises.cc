#include "acoustics/inner_noises.h"

namespace phren::acoustics {
namespace {

constexpr std::array<double, 3> kBurst_s = {0.10, 0.15, 0.08}, kThen_s = {0.10, 0.19, 0.0};
constexpr double kSwallowNeck_db = 0.0, kSwallowChest_db = -20.0, kGut_db = -8.0;
constexpr double kLeastSnow = 0.05, kSnowAtRest = 2.0, kSnowMoving = 14.0;  // crackles a second
constexpr double kSnow_hz = 330.0, kSnow_db = 9.0;                          // peak re breath
constexpr double kSpellEvery_s = 45.0, kSpell_s = 0.64;

TruthEvent event_of(const HandlingStep& at, exam::Sound sound, Region region, double length_s,
                    double pitch_hz, double peak) noexcept {
  const double wall = at.scene.hearing->wall_gain * at.scene.hearing->gas_gain + 1e-9;
  TruthEvent event;
  event.sound = sound;
  event.region = region;
  event.phase = at.scene.now->phase;
  event.start_s = at.scene.start_s;
  event.end_s = at.scene.start_s + length_s;
  event.pitch_hz = pitch_hz;
  event.level_above_background_db =
      transient_above_background_db(*at.scene.background, pitch_hz, peak / wall);
  event.audible = event.level_above_background_db > kTransientThreshold_db;
  return event;
}

}  // namespace

InnerNoises::InnerNoises(Seed seed, double age_years) noexcept
    : draw_(seed, "swallow and gut"),
      snow_(seed, "air under the skin"),
      swallows_per_s_(mix(0.98, 0.21, smooth_step(30.0, 75.0, age_years)) / 60.0) {
  next_swallow_ = draw_.exponential(1.0);
  next_spell_s_ = draw_.exponential(kSpellEvery_s);
}

// Nobody swallows while breathing in; the breath waits in the model only as long as it already
// does.
void InnerNoises::swallow(const HandlingStep& at, const SkinPlace& place, Transients& to) noexcept {
  const double amount = at.mix[Layer::kSwallow];
  if (amount <= 0.0) return;
  next_swallow_ -= swallows_per_s_ * at.scene.step_s;
  if (next_swallow_ <= 0.0 && burst_ >= 3 && at.scene.now->phase != exam::Phase::kInspiration) {
    next_swallow_ = draw_.exponential(1.0);
    burst_ = 0;
    burst_s_ = 0.0;
  }
  if (burst_ >= 3) return;
  burst_s_ -= at.scene.step_s;
  if (burst_s_ > 0.0) return;
  const auto b = static_cast<std::size_t>(burst_);
  const double db = mix(kSwallowChest_db, kSwallowNeck_db, place.neck) + draw_.normal(0.0, 4.0);
  const double level = amount * at.breath * det::ratio_from_db(db);
  to.rub({100.0, 1000.0, kBurst_s[b], level, 4.0});
  const TruthEvent event =
      event_of(at, exam::Sound::kSwallow, Region::kUpperAirway, kBurst_s[b], 400.0, 2.0 * level);
  if (event.level_above_background_db > -6.0) at.scene.truth->push(event);
  burst_s_ += kBurst_s[b] + kThen_s[b];
  ++burst_;
}

// Stomach and colon lie under the lower ribs, on the left more than on the right.
void InnerNoises::gut(const HandlingStep& at, Transients& to) noexcept {
  const double amount =
      at.mix[Layer::kGut] * at.lower *
      (at.scene.hearing->lobe_gain[4] > at.scene.hearing->lobe_gain[2] ? 1.0 : 0.25);
  if (amount <= 0.02) return;
  if (spell_left_s_ <= 0.0) {
    next_spell_s_ -= at.scene.step_s;
    if (next_spell_s_ > 0.0) return;
    next_spell_s_ = draw_.exponential(kSpellEvery_s);
    spell_left_s_ = draw_.log_normal(kSpell_s, 0.6);
    spell_hz_ = draw_.log_normal(325.0, 0.3);
    next_grain_s_ = 0.0;
    const double peak = amount * at.breath * det::ratio_from_db(kGut_db + 6.0);
    const TruthEvent event =
        event_of(at, exam::Sound::kBowel, Region::kGut, spell_left_s_, spell_hz_, peak);
    if (event.level_above_background_db > -6.0) at.scene.truth->push(event);
  }
  spell_left_s_ -= at.scene.step_s;
  next_grain_s_ -= at.scene.step_s;
  if (next_grain_s_ > 0.0) return;
  next_grain_s_ += draw_.exponential(0.035);
  Transients::Blow blow;
  blow.pitch_hz = draw_.log_normal(spell_hz_, 0.15);
  blow.q = draw_.uniform(3.0, 7.0);
  blow.peak = amount * at.breath * det::ratio_from_db(kGut_db + draw_.normal(0.0, 5.0));
  blow.soft = true;
  to.strike(blow);
}

void InnerNoises::crackle_skin(const HandlingStep& at, double air, Transients& to) noexcept {
  if (air <= kLeastSnow || at.contact.lifted > 0.5) return;
  double moves = at.scene.now->trachea_flow_L_per_s / at.scene.scale.flow_L_per_s;
  if (moves < 0.0) moves = -moves;
  const double rate =
      air * (kSnowAtRest + kSnowMoving * clamp(moves, 0.0, 2.0) + 0.5 * at.contact.speed_cm_per_s);
  next_snow_ -= rate * at.scene.step_s;
  while (next_snow_ <= 0.0) {
    next_snow_ += snow_.exponential(1.0);
    Transients::Blow blow;
    blow.pitch_hz = clamp(snow_.log_normal(kSnow_hz, 0.35), 120.0, 900.0);
    blow.q = snow_.uniform(1.2, 2.5);
    const double peak = at.breath * det::ratio_from_db(kSnow_db + snow_.normal(0.0, 5.0));
    blow.peak = snow_.chance(0.5) ? peak : -peak;
    blow.delay_s = snow_.uniform() * at.scene.step_s;
    to.strike(blow);
    TruthEvent event =
        event_of(at, exam::Sound::kContactClick, Region::kContact, 0.006, blow.pitch_hz, peak);
    event.start_s += blow.delay_s;
    event.end_s += blow.delay_s;
    if (event.level_above_background_db > -6.0) at.scene.truth->push(event);
  }
}

void InnerNoises::update(const HandlingStep& at, const SkinPlace& place, Transients& to) noexcept {
  swallow(at, place, to);
  gut(at, to);
}

}  // namespace phren::acoustics
