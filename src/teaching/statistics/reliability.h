// Does a set of items measure one thing, and which items work? Classical test analysis.
//
// Shapes:  scores[person][item]; KR-20, KR-21 and guessing need 0/1 items.
// Errors:  kInvalidArgument naming the row or item; "no spread" when every total is equal.
// Source:  Cronbach 1951, Kuder & Richardson 1937; interval of alpha by Feldt 1965; upper-lower
//          groups of 27 % by Kelley 1939 (citations from memory). The same divisor n is used in
//          every variance, so that KR-20 equals alpha.
#pragma once

#include <vector>

#include "base/result.h"
#include "teaching/statistics/estimate.h"

namespace phren::teaching {

// Cronbach's alpha; equals KR-20 for 0/1 items. Interval by Feldt, se by the jackknife.
Result<Estimate> cronbach_alpha(const Table& scores);
Result<Estimate> kr20(const Table& scores);  // refuses anything but 0/1
Result<Estimate> kr21(const Table& scores);  // as if all items were equally hard
// Standard error of measurement of a total, sd sqrt(1 - reliability).
Result<Estimate> standard_error_of_measurement(const Table& scores);

struct ItemAnalysis {
  Estimate difficulty;            // share of the maximum reached; Wilson interval for 0/1 items
  Estimate item_total;            // correlation with the total, the item included
  Estimate item_rest;             // with the rest of the test: the discrimination to read
  Estimate upper_lower;           // share right in the best 27 % minus in the worst 27 %
  double alpha_if_dropped = 0.0;  // NaN with fewer than three items
};
// `max_points` per item; empty means 1 each. Ties at the 27 % border are shared out in proportion.
Result<std::vector<ItemAnalysis>> analyse_items(const Table& scores,
                                                const std::vector<double>& max_points = {});

// Number right corrected for guessing: right - wrong / (options - 1).
double corrected_for_guessing(double right, double wrong, double options);

}  // namespace phren::teaching
