// Noises of the body that are no finding: swallowing and the gut.
//
// Errors:  none; nothing allocates.
// Source:  a swallow is three bursts of 100, 150 and 80 ms with gaps of 100 and 190 ms (Moriniere
//          2006), 0.98 a minute awake in the young, 0.21 in the old (Bulmer 2021); gut sounds last
//          0.64 s at 325 Hz in spells (Ching & Tan 2012). Levels at the chest: ENGINEERING.
#pragma once

#include "acoustics/handling.h"

namespace phren::acoustics {

class InnerNoises {
 public:
  InnerNoises(Seed seed, double age_years) noexcept;
  void update(const HandlingStep& at, const SkinPlace& place, Transients& to) noexcept;
  // Air under the skin, 0 .. 1, crackles like snow as the chest moves and under the hand: a finding, so
  // on a clean chest too. Rate and level: ENGINEERING.
  void crackle_skin(const HandlingStep& at, double air, Transients& to) noexcept;

 private:
  void swallow(const HandlingStep& at, const SkinPlace& place, Transients& to) noexcept;
  void gut(const HandlingStep& at, Transients& to) noexcept;

  RandomStream draw_;
  RandomStream snow_;
  double swallows_per_s_;
  double next_swallow_ = 1.0, burst_s_ = 0.0;
  int burst_ = 3;
  double next_spell_s_ = 20.0, spell_left_s_ = 0.0, next_grain_s_ = 0.0, spell_hz_ = 325.0,
         next_snow_ = 1.0;
};

}  // namespace phren::acoustics
