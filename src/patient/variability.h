// No two breaths are alike: how volume and times vary from breath to breath (sighs: breathing.cc).
//
// Units:   factors on what the respiratory centre meant. At amount 0 every factor is 1 and nothing
//          is drawn.
// Errors:  none; no allocation.
// Source:  coefficient of variation of volume: 17.6 % at 1-2 years, 14.9 % at 2-6, 15.3 % at 6-12
//          (dos Santos Rocha 2021, asleep at home), 22 % in young and 28 % in old adults, of
//          inspiratory time 19 and 21 % (review table in Crit Care 2021), 8-12 % through a flow
//          meter; 33 % of volume in 65 adults (Tobin 1988). One breath says little about the
//          next. What is used lies between quiet and free breathing: ENGINEERING.
#pragma once

#include "base/random.h"

namespace phren::patient {

struct BreathChange {
  double effort = 1.0, inspiration = 1.0, expiration = 1.0;
};

class Variability {
 public:
  // amount 0..1; `age_years` decides how much 1 is.
  void set(double amount, double age_years, Seed seed) noexcept;
  BreathChange next() noexcept;
  double amount() const noexcept { return amount_; }

 private:
  RandomStream draw_{Seed{1}, "breath to breath"};
  double amount_ = 0.0, volume_cv_ = 0.2, time_cv_ = 0.15;
  double volume_ = 0.0, inspiration_ = 0.0, expiration_ = 0.0;  // standard deviations, now
};

double breath_volume_cv(double age_years) noexcept;
double breath_time_cv(double age_years) noexcept;

}  // namespace phren::patient
