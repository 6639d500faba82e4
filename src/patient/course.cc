#include "patient/course.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kMostLevel =
    1.3;  // of a relief: repeated applications add up to this, not further
constexpr double kMostAdded = 8.0;  // of what is put in, such as fluid

using det::clamp;

double combined(Combine how, double a, double b) noexcept {
  switch (how) {
    case Combine::kShare:
      return 1.0 - (1.0 - a) * (1.0 - b);
    case Combine::kSum:
      return a + b;
    case Combine::kLarger:
      return a > b ? a : b;
  }
  return a;
}

// Peak of the two-exponential curve with rates 1/rise and ln2/fade; 1 when it does not fade.
double peak_of(const TreatmentEffect& e) noexcept {
  if (e.is_held || e.fade_s <= 0.0) return 1.0;
  const double in = 1.0 / e.rise_s;
  double out = det::kLn2 / e.fade_s;
  if (out > 0.999 * in && out < 1.001 * in) out = 0.999 * in;
  const double t = det::log(in / out) / (in - out);
  return in / (in - out) * (det::exp(-out * t) - det::exp(-in * t));
}

}  // namespace

double Curve::operator()(double severity) const noexcept {
  const double x = clamp(severity, 0.0, 1.0) * 4.0;
  const int i = x >= 4.0 ? 3 : static_cast<int>(x);
  const auto k = static_cast<std::size_t>(i);
  return at[k] + (x - i) * (at[k + 1] - at[k]);
}

Course::Course(const PatientConfig& config, Seed seed)
    : conditions_(config.conditions),
      steered_(config.conditions.size()),
      wall_cm_(config.person.wall_front_cm),
      chance_(seed, "treatment chance") {
  RandomStream scatter(seed, "lobe scatter");
  for (const ActiveCondition& c : conditions_) {
    for (const ConditionEffect& e : c.effects) {
      std::array<double, exam::kNumLobes> factor{};
      // Bodies differ in how unevenly a disease strikes; how hard it strikes is the severity's
      // part.
      double sum = 0.0;
      for (double& f : factor) sum += f = clamp(1.0 + e.spread * scatter.normal(), 0.2, 2.0);
      for (double& f : factor) f *= exam::kNumLobes / sum;
      scatter_.push_back(factor);
    }
  }
  for (std::size_t t = 0; t < config.treatments.size(); ++t) {
    for (const TreatmentEffect& e : config.treatments[t].effects) {
      Live live;
      live.effect = e;
      live.treatment = static_cast<int>(t);
      live.scale = 1.0 / peak_of(e);
      live_.push_back(live);
    }
  }
  update(0.0, 0.0);
}

bool Course::apply(int treatment, exam::Side side, double) noexcept {
  bool found = false;
  const double lucky = chance_.uniform();
  const double wall = wall_cm_ + chance_.normal(0.0, 0.7);
  for (Live& live : live_) {
    if (live.treatment != treatment) continue;
    found = true;
    const TreatmentEffect& e = live.effect;
    live.sides = side == exam::Side::kRight ? 1 : side == exam::Side::kLeft ? 2 : 3;
    if (lucky >= e.chance) continue;
    if (e.reach_cm > 0.0 && wall > e.reach_cm) continue;
    if (e.is_held) {
      live.is_on = true;
    } else if (e.lag_s > 0.0) {
      live.pending += 1.0;
      if (live.wait_s <= 0.0) live.wait_s = e.lag_s;
    } else {
      live.depot += 1.0;
    }
  }
  return found;
}

bool Course::stop(int treatment, exam::Side) noexcept {
  bool found = false;
  for (Live& live : live_) {
    if (live.treatment != treatment) continue;
    found = true;
    live.is_on = false;
  }
  return found;
}

bool Course::is_on(int treatment) const noexcept {
  for (const Live& live : live_) {
    if (live.treatment == treatment && (live.is_on || live.level > 0.02 || live.pending > 0.0))
      return true;
  }
  return false;
}

double Course::level(int treatment, std::size_t index) const noexcept {
  for (const Live& live : live_) {
    if (live.treatment == treatment && index-- == 0) return live.level * live.scale;
  }
  return 0.0;
}

double Course::severity(std::size_t condition, double time) const noexcept {
  const ActiveCondition& c = conditions_[condition];
  if (const Steered& s = steered_[condition]; s.is_on) {
    const double t = s.over_s > 0.0 ? clamp((time - s.begin_s) / s.over_s, 0.0, 1.0) : 1.0;
    return s.from + t * (s.to - s.from);
  }
  if (time < c.begins_s) return 0.0;
  if (c.change_over_s <= 0.0) return time > 0.0 ? c.severity_later : c.severity;
  const double t = clamp(time / c.change_over_s, 0.0, 1.0);
  return c.severity + t * (c.severity_later - c.severity);
}

void Course::steer(std::size_t condition, double target, double time, double over) noexcept {
  const double from = severity(condition, time);
  steered_[condition] = {from, target, time, over, true};
}

void Course::add(Mechanism m, std::size_t index, double value) noexcept {
  const MechanismInfo& info = info_of(m);
  double* slot = nullptr;
  const auto i = static_cast<std::size_t>(m);
  switch (level_of(m)) {
    case Level::kLobe:
      slot = &load_.lobe[i][index];
      break;
    case Level::kSide:
      slot = &load_.side[i - kFirstSideMechanism][index];
      break;
    case Level::kBody:
      slot = &load_.body[i - kFirstBodyMechanism];
      break;
  }
  *slot = clamp(combined(info.combine, *slot, value), info.low, info.high);
}

void Course::worsen(Mechanism m, double value) noexcept {
  if (value > 0.0) add(m, 0, value);
}
void Course::worsen_lobe(Mechanism m, std::size_t lobe, double value) noexcept {
  if (value > 0.0) add(m, lobe, value);
}
void Course::ease_lobe(Mechanism m, std::size_t lobe, double share) noexcept {
  load_.lobe[static_cast<std::size_t>(m)][lobe] *= 1.0 - clamp(share, 0.0, 1.0);
}
void Course::worsen_side(Mechanism m, std::size_t side, double value) noexcept {
  if (value > 0.0) add(m, side, value);
}

void Course::add_conditions(double time) noexcept {
  std::size_t n = 0;
  for (std::size_t c = 0; c < conditions_.size(); ++c) {
    const double s = severity(c, time);
    if (s <= 0.0) {  // not there, whatever its curves begin with
      n += conditions_[c].effects.size();
      continue;
    }
    for (const ConditionEffect& e : conditions_[c].effects) {
      const double value = e.curve(s);
      const auto& scatter = scatter_[n++];
      if (level_of(e.mechanism) == Level::kBody) {
        add(e.mechanism, 0, value);
        continue;
      }
      const bool per_lobe = level_of(e.mechanism) == Level::kLobe;
      const std::size_t count = per_lobe ? exam::kNumLobes : kNumSides;
      const unsigned mask = per_lobe ? e.lobes : e.sides;
      for (std::size_t i = 0; i < count; ++i) {
        if ((mask >> i) & 1u) add(e.mechanism, i, value * (per_lobe ? scatter[i] : 1.0));
      }
    }
  }
}

void Course::act_on(const Live& live) noexcept {
  const TreatmentEffect& e = live.effect;
  const bool adds_up = info_of(e.mechanism).combine == Combine::kSum;
  const double x = clamp(live.level * live.scale, 0.0, adds_up ? kMostAdded : kMostLevel);
  if (x <= 0.0) return;
  const MechanismInfo& info = info_of(e.mechanism);
  const std::size_t count = level_of(e.mechanism) == Level::kLobe   ? exam::kNumLobes
                            : level_of(e.mechanism) == Level::kSide ? kNumSides
                                                                    : 1;
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t side = count == exam::kNumLobes ? (i < 3 ? 0u : 1u) : i;
    if (count > 1 && !((live.sides >> side) & 1u)) continue;
    if (e.operation == Operation::kAdd) {
      add(e.mechanism, i, clamp(e.size * x, info.low, info.high));
      continue;
    }
    const double left = clamp(1.0 - e.size * x, 0.0, 1.0);
    const auto m = static_cast<std::size_t>(e.mechanism);
    if (count == exam::kNumLobes) {
      load_.lobe[m][i] *= left;
    } else if (count == kNumSides) {
      load_.side[m - kFirstSideMechanism][i] *= left;
    } else {
      load_.body[m - kFirstBodyMechanism] *= left;
    }
  }
}

void Course::update(double time, double dt) noexcept {
  load_ = Load{};
  add_conditions(time);
  for (Live& live : live_) {
    const TreatmentEffect& e = live.effect;
    if (e.is_held) {
      const double tau = live.is_on ? e.rise_s : (e.fade_s > 0.0 ? e.fade_s : e.rise_s);
      live.level += ((live.is_on ? 1.0 : 0.0) - live.level) * (1.0 - det::exp(-dt / tau));
      if (live.level < 1e-6) live.level = 0.0;
    } else {
      if (live.wait_s > 0.0) {
        live.wait_s -= dt;
        if (live.wait_s <= 0.0) {
          live.depot += live.pending;
          live.pending = 0.0;
        }
      }
      if (live.depot > 0.0 || live.level > 0.0) {
        const double fade = e.fade_s > 0.0 ? det::exp(-det::kLn2 * dt / e.fade_s) : 1.0;
        const double keep = det::exp(-dt / e.rise_s);
        const double moved = live.depot * (1.0 - keep);
        live.depot -= moved;
        live.level = live.level * fade + moved * (0.5 + 0.5 * fade);
        if (live.level < 1e-6 && live.depot < 1e-6) live.level = live.depot = 0.0;
      }
    }
    if (live.level > 0.0) act_on(live);
  }
}

}  // namespace phren::patient
