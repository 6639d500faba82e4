#include "acoustics/scene.h"

#include "acoustics/lanes.h"

namespace phren::acoustics {

void TruthRing::push(const TruthEvent& event) noexcept {
  if (count_ == kCapacity) {  // keep the newest: the oldest was not collected in time
    first_ = (first_ + 1) % kCapacity;
    --count_;
    ++lost_;
  }
  events_[(first_ + count_) % kCapacity] = event;
  ++count_;
}

std::size_t TruthRing::drain(std::span<TruthEvent> out) noexcept {
  std::size_t taken = 0;
  while (taken < out.size() && count_ > 0) {
    out[taken++] = events_[first_];
    first_ = (first_ + 1) % kCapacity;
    --count_;
  }
  return taken;
}

BodyScale body_scale(const patient::Person& person) noexcept {
  const double height_m = clamp(0.01 * person.height_cm, 0.4, 2.2);
  const double age = clamp(person.age_years, 0.0, 120.0);
  const double lean_kg_per_m2 = mix(14.0, 22.5, smooth_step(0.0, 18.0, age));
  const double lean_kg = lean_kg_per_m2 * height_m * height_m;
  const double weight = lean_kg < person.weight_kg ? lean_kg : clamp(person.weight_kg, 1.5, 250.0);
  BodyScale out;
  out.flow_L_per_s = 0.0154 * weight;
  out.pitch = det::pow(1.70 / height_m, 0.55);
  out.volume_L = weight / 65.0;
  return out;
}

void Background::add(const Part& part) noexcept {
  if (count_ < parts_.size() && part.density > 0.0) parts_[count_++] = part;
}

double Background::power_per_hz(double f_hz, std::size_t first, std::size_t last) const noexcept {
  double sum = 1e-14;
  for (std::size_t i = first; i < last; ++i) {
    const Part& p = parts_[i];
    double power = p.density * p.density * low_pass_power(f_hz, p.corner_hz, p.q) *
                   pole_power(f_hz, p.pole_hz);
    if (p.low_cut_hz > 0.0) power *= 1.0 - pole_power(f_hz, p.low_cut_hz);
    sum += power;
  }
  return sum;
}

double Background::power_between(double low_hz, double high_hz, std::size_t first,
                                 std::size_t last) const noexcept {
  const double ratio = det::pow(high_hz / low_hz, 1.0 / kSteps);
  double sum = 0.0, f = low_hz;
  for (int i = 0; i < kSteps; ++i) {
    sum += power_per_hz(f * det::sqrt(ratio), first, last) * f * (ratio - 1.0);
    f *= ratio;
  }
  return sum;
}

double Background::clearest_ratio(double low_hz, double high_hz, std::size_t count) const noexcept {
  const double ratio = det::pow(high_hz / low_hz, 1.0 / kSteps);
  double best = 0.0, f = low_hz * det::sqrt(ratio);
  for (int i = 0; i < kSteps; ++i) {
    const double here = power_per_hz(f, 0, count) / power_per_hz(f, count, count_);
    if (here > best) best = here;
    f *= ratio;
  }
  return best;
}

double hearing_bandwidth_hz(double f_hz) noexcept {
  return 24.7 * (4.37e-3 * f_hz + 1.0);
}

double tone_above_background_db(const Background& background, double f_hz,
                                double mean_square) noexcept {
  const double noise = background.power_per_hz(f_hz) * hearing_bandwidth_hz(f_hz);
  return 10.0 * det::log10(mean_square / noise + 1e-12);
}

double transient_above_background_db(const Background& background, double f_hz,
                                     double peak) noexcept {
  // A short click spreads over about two octaves around its own frequency.
  const double noise = background.power_between(0.5 * f_hz, 2.0 * f_hz);
  return 10.0 * det::log10(peak * peak / noise + 1e-12);
}

}  // namespace phren::acoustics
