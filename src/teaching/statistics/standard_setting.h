// Where the pass mark comes from.
//
// Errors:  kInvalidArgument when the data cannot give a cut (no borderline candidate, a slope that
//          is not positive); doubts that do not forbid a cut come back as warnings.
// Source:  Angoff 1971; borderline group and regression as in Reid & Dodds and JRMS 2013; contrast
//          of groups (the last from memory). Worked values in tests/published/teaching_test.cc.
// Limits:  never round a cut before comparing a score with it.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "base/result.h"
#include "teaching/statistics/estimate.h"

namespace phren::teaching {

inline constexpr std::size_t kFewestJudges = 2, kFewestCandidates = 4;

struct AngoffCut {
  Estimate points;                // se = sd of the judges' sums / sqrt(judges)
  double share_of_maximum = 0.0;  // 0..1
  double sd_between_judges = 0.0;
  std::vector<double> judge_sums;
};
// chance[judge][item]: the judge's chance, 0..1, that a borderline candidate gets the item right.
Result<AngoffCut> angoff_cut(const Table& chance);

struct Candidate {
  double global_rating = 0.0;
  double checklist_points = 0.0;
};

struct BorderlineRegression {
  Estimate cut;  // se of the regression line at the borderline rating
  double slope = 0.0;
  double intercept = 0.0;
  double r_squared = 0.0;
  double residual_sd = 0.0;
  std::vector<std::string> warnings;
};
// `borderline_rating` must be said: scales put it at 2 of 5 or at 3 of 5.
Result<BorderlineRegression> borderline_regression(const std::vector<Candidate>& candidates,
                                                   double borderline_rating);

struct BorderlineGroup {
  Estimate mean;
  double median = 0.0;
  std::size_t num_borderline = 0;
  std::vector<std::string> warnings;
};
Result<BorderlineGroup> borderline_group(const std::vector<Candidate>& candidates,
                                         double borderline_rating);

}  // namespace phren::teaching
