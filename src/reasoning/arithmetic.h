// The arithmetic of diagnostic evidence: two-by-two tables, likelihood ratios, probabilities.
//
// Units:   probabilities 0..1; natural log-odds.
#pragma once

namespace phren::reasoning {

double probability_from_log_odds(double log_odds);
double log_odds_from_probability(double probability);
// Odds before times ratio, back to a probability. REQUIRES: 0 <= before < 1 and ratio >= 0.
double probability_after(double before, double ratio);

// People counted by truth and test. REQUIRES: people with and without, else ratios are not finite.
struct TwoByTwo {
  double true_positive = 0.0, false_positive = 0.0, false_negative = 0.0, true_negative = 0.0;

  // Of `people`, with the condition in `prevalence` of them.
  static TwoByTwo expected(double people, double prevalence, double sensitivity,
                           double specificity);
  double sensitivity() const { return true_positive / (true_positive + false_negative); }
  double specificity() const { return true_negative / (true_negative + false_positive); }
  double positive_predictive() const { return true_positive / (true_positive + false_positive); }
  double negative_predictive() const { return true_negative / (true_negative + false_negative); }
  double accuracy() const;
  double positive_ratio() const { return sensitivity() / (1.0 - specificity()); }
  double negative_ratio() const { return (1.0 - sensitivity()) / specificity(); }
};

// One band of a score: share of those with the condition in it, over the share of those without.
double interval_ratio(double with_in_band, double with_all, double without_in_band,
                      double without_all);

}  // namespace phren::reasoning
