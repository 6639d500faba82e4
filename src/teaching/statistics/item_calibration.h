// Difficulty and slope of items from many persons' answers.
//
// Shapes:  patterns[k] = answers of a person, 0/1 per item, seen `frequency` times.
// Errors:  kInvalidArgument naming the item that all or none got right, or the size that is
// missing. Source:  marginal maximum likelihood, ability N(0,1): Bock & Lieberman 1970, Bock &
// Aitkin 1981
//          (citations from memory). Standard errors from the observed information. Checked against
//          R packages ltm and mirt in tests/published/teaching_irt_test.cc.
// Limits:  2PL slopes need hundreds of persons; with a class of thirty use Rasch.
#pragma once

#include <vector>

#include "base/result.h"
#include "teaching/statistics/item_response.h"

namespace phren::teaching {

struct AnswerPattern {
  std::vector<int> right;  // 0 or 1 per item
  double frequency = 1.0;
};

// kInvalidArgument naming the item or person unless every item was answered both ways.
Status check_patterns(const std::vector<AnswerPattern>& patterns);

enum class SlopeModel { kUnit, kCommon, kFree };  // Rasch, one slope for all, 2PL

struct CalibratedItem {
  Estimate slope;
  Estimate intercept;   // -slope x difficulty
  Estimate difficulty;  // se by the delta method
};
struct Calibration {
  std::vector<CalibratedItem> items;
  double log_likelihood = 0.0;
  double likelihood_ratio = 0.0;  // G2 of observed to expected pattern frequencies
  double pearson = 0.0;           // X2 over all 2^k patterns; NaN above 15 items
  double degrees_of_freedom = 0.0;
  bool converged = false;
};
Result<Calibration> calibrate_marginal(const std::vector<AnswerPattern>& patterns,
                                       SlopeModel model);

// log L of the patterns with given items and ability N(0,1); what calibrate_marginal maximises.
double marginal_log_likelihood(const std::vector<AnswerPattern>& patterns,
                               const std::vector<Item>& items);

}  // namespace phren::teaching
