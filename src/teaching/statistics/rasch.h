// Rasch model by conditional maximum likelihood: item difficulties without assuming how ability is
// spread, so it holds for a small class.
//
// Units:   logits; difficulties sum to zero.
// Errors:  as calibrate_marginal; also when the answers do not fix the difficulties.
// Source:  Andersen 1972 (from memory). Checked against R package eRm in
//          tests/published/teaching_irt_test.cc.
#pragma once

#include <vector>

#include "base/result.h"
#include "teaching/statistics/item_calibration.h"

namespace phren::teaching {

struct RaschCalibration {
  std::vector<Estimate> difficulty;        // sum zero
  std::vector<Estimate> ability_by_score;  // score 1..k-1 (all wrong and all right have none)
  double log_likelihood = 0.0;             // conditional
};
Result<RaschCalibration> calibrate_rasch(const std::vector<AnswerPattern>& patterns);

}  // namespace phren::teaching
