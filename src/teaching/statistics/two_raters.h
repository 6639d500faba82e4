// Agreement of two raters who sorted the same things into the same categories.
//
// Shapes:  counts[i][j] = things the first rater put in i and the second in j; square, q >= 2.
// Errors:  kInvalidArgument naming the cell when a table is not square, negative or empty, or when
//          chance agreement is 1 so that no coefficient exists.
// Source:  Cohen 1960, 1968; standard errors Fleiss, Cohen & Everitt 1969; Scott 1955; Gwet 2008;
//          Brennan & Prediger 1981 (citations from memory; values checked in
//          tests/published/teaching_test.cc).
#pragma once

#include "base/result.h"
#include "teaching/statistics/estimate.h"

namespace phren::teaching {

Table unweighted(std::size_t q);
Table linear_weights(std::size_t q);
Table quadratic_weights(std::size_t q);
// Agreement weights 1 - d / max(d) from disagreement weights d.
Table agreement_from_disagreement(const Table& disagreement);

struct Kappa {
  double n = 0.0;
  double observed = 0.0;
  double expected = 0.0;
  Estimate kappa;        // se without assuming kappa = 0
  double se_null = 0.0;  // se if the true kappa were 0, for the test
};

// Weighted by `weights` (1 on the diagonal), or plain with unweighted(q).
Result<Kappa> cohen_kappa(const Table& counts, const Table& weights);

struct TwoRaters {
  Kappa kappa;
  Kappa linear;
  Kappa quadratic;
  Estimate scott_pi;
  Estimate gwet_ac1;
  Estimate brennan_prediger;
};
Result<TwoRaters> two_raters(const Table& counts);

// Words for a coefficient, Landis & Koch 1977: poor, slight, fair, moderate, substantial, almost
// perfect. The bands are a convention, not a test.
const char* landis_koch_word(double coefficient);

}  // namespace phren::teaching
