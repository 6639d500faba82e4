// Shares and signal detection: how often right, and how well two kinds of sound are told apart.
//
// Source:  Wilson 1927 interval, Newcombe's difference (1998, method 10, from memory); d' with the
//          log-linear correction (Hautus 1995), its variance by Gourevitch & Galanter 1967 (both
//          from memory). Checked in tests/published/teaching_test.cc.
#pragma once

#include "base/result.h"
#include "teaching/statistics/estimate.h"

namespace phren::teaching {

// Wilson score interval. kInvalidArgument unless 0 <= successes <= trials and trials > 0.
// `se` is that of the plain share, sqrt(p q / n).
Result<Estimate> proportion(double successes, double trials, bool continuity_corrected = false);

// Difference of two shares, a - b, with Newcombe's hybrid score interval.
Result<Estimate> proportion_difference(double successes_a, double trials_a, double successes_b,
                                       double trials_b);

struct DetectionCounts {
  double hits = 0.0;
  double signal_trials = 0.0;
  double false_alarms = 0.0;
  double noise_trials = 0.0;
};

struct Detection {
  double hit_rate = 0.0;  // as used, so corrected if asked
  double false_alarm_rate = 0.0;
  Estimate d_prime;
  Estimate criterion;  // c: above 0 = tends to answer "not there"
  Estimate log_beta;
  Estimate area;  // under the curve, Phi(d' / sqrt 2)
};

// With `log_linear` half an answer is added to each cell, always, not only at 0 or 1. Without it,
// rates of exactly 0 or 1 are an error: d' would be infinite.
Result<Detection> detection(const DetectionCounts& counts, bool log_linear = true);

}  // namespace phren::teaching
