#include "teaching/statistics/proportion.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace phren::teaching {
namespace {

Status check_counts(double successes, double trials) {
  if (!(trials > 0.0)) return fail(out_of_range("trials", trials, "above 0"));
  if (!(successes >= 0.0 && successes <= trials)) {
    return fail(out_of_range("successes", successes, "between 0 and the number of trials"));
  }
  return {};
}

// One end of the continuity-corrected interval; the upper end mirrors the lower one.
double corrected_low(double x, double n, double z) {
  if (x <= 0.0) return 0.0;
  const double p = x / n;
  const double root = z * z - 2.0 - 1.0 / n + 4.0 * p * (n * (1.0 - p) + 1.0);
  return std::max(0.0, (2.0 * n * p + z * z - 1.0 - z * std::sqrt(root)) / (2.0 * (n + z * z)));
}

}  // namespace

Result<Estimate> proportion(double successes, double trials, bool continuity_corrected) {
  TRY(check_counts(successes, trials));
  const double z = normal_quantile(0.975);
  const double p = successes / trials;
  const double se = std::sqrt(p * (1.0 - p) / trials);
  if (continuity_corrected) {
    return Estimate{p, se, corrected_low(successes, trials, z),
                    1.0 - corrected_low(trials - successes, trials, z)};
  }
  const double scale = 1.0 + z * z / trials;
  const double centre = (p + z * z / (2.0 * trials)) / scale;
  const double half =
      z * std::sqrt(p * (1.0 - p) / trials + z * z / (4.0 * trials * trials)) / scale;
  // At 0 and n the closed ends are exact; rounding must not move them.
  return Estimate{p, se, successes <= 0.0 ? 0.0 : std::max(0.0, centre - half),
                  successes >= trials ? 1.0 : std::min(1.0, centre + half)};
}

Result<Estimate> proportion_difference(double successes_a, double trials_a, double successes_b,
                                       double trials_b) {
  const auto a = TRY(at("first group", proportion(successes_a, trials_a)));
  const auto b = TRY(at("second group", proportion(successes_b, trials_b)));
  const double value = a.value - b.value;
  return Estimate{value, std::hypot(a.se, b.se),
                  value - std::hypot(a.value - a.low, b.high - b.value),
                  value + std::hypot(a.high - a.value, b.value - b.low)};
}

Result<Detection> detection(const DetectionCounts& counts, bool log_linear) {
  if (auto ok = check_counts(counts.hits, counts.signal_trials); !ok) {
    return fail(at("hits", ok.error()));
  }
  if (auto ok = check_counts(counts.false_alarms, counts.noise_trials); !ok) {
    return fail(at("false alarms", ok.error()));
  }
  const double add = log_linear ? 0.5 : 0.0;
  const double signals = counts.signal_trials + 2.0 * add;
  const double noises = counts.noise_trials + 2.0 * add;
  Detection result;
  const double hit = result.hit_rate = (counts.hits + add) / signals;
  const double alarm = result.false_alarm_rate = (counts.false_alarms + add) / noises;
  for (const double rate : {hit, alarm}) {
    if (rate <= 0.0 || rate >= 1.0) {
      return fail(out_of_range("rate", rate, "above 0 and below 1, or log-linear corrected"));
    }
  }
  const double z_hit = normal_quantile(hit);
  const double z_alarm = normal_quantile(alarm);
  const double var_hit = hit * (1.0 - hit) / signals / std::pow(normal_density(z_hit), 2);
  const double var_alarm = alarm * (1.0 - alarm) / noises / std::pow(normal_density(z_alarm), 2);
  const double se = std::sqrt(var_hit + var_alarm);
  const double d_prime = z_hit - z_alarm;
  result.d_prime = normal_estimate(d_prime, se);
  result.criterion = normal_estimate(-(z_hit + z_alarm) / 2.0, se / 2.0);
  result.log_beta =
      normal_estimate((z_alarm * z_alarm - z_hit * z_hit) / 2.0,
                      std::sqrt(z_hit * z_hit * var_hit + z_alarm * z_alarm * var_alarm));
  const double root2 = std::numbers::sqrt2;
  result.area =
      normal_estimate(normal_cdf(d_prime / root2), normal_density(d_prime / root2) / root2 * se);
  // The ends follow from those of d', so that they stay within 0..1.
  result.area.low = normal_cdf(result.d_prime.low / root2);
  result.area.high = normal_cdf(result.d_prime.high / root2);
  return result;
}

}  // namespace phren::teaching
