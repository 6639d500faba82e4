#include "patient/variability.h"

#include <array>

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kMemory = 0.2;  // correlation of one breath with the next

struct AtAge {
  double years, volume_cv, time_cv;
};
constexpr std::array<AtAge, 5> kAtAge = {{{0.0, 0.20, 0.16},
                                          {2.0, 0.176, 0.14},
                                          {9.0, 0.153, 0.13},
                                          {25.0, 0.20, 0.14},
                                          {70.0, 0.25, 0.16}}};

template <class Member>
double at_age(double years, Member member) noexcept {
  if (years <= kAtAge.front().years) return kAtAge.front().*member;
  for (std::size_t i = 1; i < kAtAge.size(); ++i) {
    const AtAge &a = kAtAge[i - 1], &b = kAtAge[i];
    if (years < b.years)
      return a.*member + (b.*member - a.*member) * (years - a.years) / (b.years - a.years);
  }
  return kAtAge.back().*member;
}

}  // namespace

double breath_volume_cv(double age_years) noexcept {
  return at_age(age_years, &AtAge::volume_cv);
}
double breath_time_cv(double age_years) noexcept {
  return at_age(age_years, &AtAge::time_cv);
}

void Variability::set(double amount, double age_years, Seed seed) noexcept {
  draw_ = RandomStream(seed, "breath to breath");
  amount_ = amount < 0.0 ? 0.0 : amount > 1.0 ? 1.0 : amount;
  volume_cv_ = breath_volume_cv(age_years);
  time_cv_ = breath_time_cv(age_years);
}

BreathChange Variability::next() noexcept {
  BreathChange out;
  if (amount_ <= 0.0) return out;
  const double renew = det::sqrt(1.0 - kMemory * kMemory);
  for (double* z : {&volume_, &inspiration_, &expiration_})
    *z = kMemory * *z + renew * draw_.normal();
  const auto factor = [&](double z, double cv) {
    return det::exp(amount_ * cv * z - 0.5 * amount_ * amount_ * cv * cv);
  };
  out.effort = factor(volume_, volume_cv_);
  out.inspiration = factor(inspiration_, time_cv_);
  out.expiration = factor(expiration_, time_cv_);
  return out;
}

}  // namespace phren::patient
