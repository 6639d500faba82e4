#include "reasoning/arithmetic.h"

#include <cmath>

namespace phren::reasoning {

double probability_from_log_odds(double log_odds) {
  return 1.0 / (1.0 + std::exp(-log_odds));
}

double log_odds_from_probability(double probability) {
  return std::log(probability / (1.0 - probability));
}

double probability_after(double before, double ratio) {
  const double odds = before / (1.0 - before) * ratio;
  return odds / (1.0 + odds);
}

TwoByTwo TwoByTwo::expected(double people, double prevalence, double sensitivity,
                            double specificity) {
  const double with = people * prevalence, without = people - with;
  return {with * sensitivity, without * (1.0 - specificity), with * (1.0 - sensitivity),
          without * specificity};
}

double TwoByTwo::accuracy() const {
  return (true_positive + true_negative) /
         (true_positive + false_positive + false_negative + true_negative);
}

double interval_ratio(double with_in_band, double with_all, double without_in_band,
                      double without_all) {
  return (with_in_band / with_all) / (without_in_band / without_all);
}

}  // namespace phren::reasoning
