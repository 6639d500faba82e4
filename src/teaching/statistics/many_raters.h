// Agreement of many raters, with gaps: not everyone need rate everything.
//
// Shapes:  a RatedUnit holds how many raters chose each category; Ratings are [rater][unit] codes.
// Errors:  kInvalidArgument when fewer than two units carry two ratings, or when no variation is
//          left for chance agreement to be defined.
// Source:  Fleiss 1971, per category and null standard error Fleiss, Nee & Landis 1979; Conger
//          1980; Gwet 2008, with his linearised standard errors and treatment of gaps;
//          Krippendorff 2004 (citations from memory). Checked against the printed results of R
//          packages irr and irrCAC in tests/published/teaching_test.cc.
#pragma once

#include <optional>
#include <vector>

#include "base/result.h"
#include "teaching/statistics/estimate.h"

namespace phren::teaching {

struct RatedUnit {
  std::vector<double> counts;  // per category
  double repeats = 1.0;        // how many units look exactly like this
};

using Ratings = std::vector<std::vector<std::optional<double>>>;  // [rater][unit], empty = gap

// Categories are the distinct codes in rising order.
std::vector<RatedUnit> units_from_ratings(const Ratings& ratings);

Result<double> observed_agreement(const std::vector<RatedUnit>& units);
Result<Estimate> fleiss_kappa(const std::vector<RatedUnit>& units);
Result<Estimate> gwet_ac1(const std::vector<RatedUnit>& units);
Result<Estimate> brennan_prediger(const std::vector<RatedUnit>& units);

// Test of "no agreement beyond chance" and kappa per category; needs the same number of raters for
// every unit.
struct FleissDetail {
  double observed = 0.0;
  double expected = 0.0;
  double kappa = 0.0;
  double se_null = 0.0;
  double z = 0.0;
  std::vector<double> per_category;
};
Result<FleissDetail> fleiss_detail(const std::vector<RatedUnit>& units);

// Knows who rated what. Standard error by the jackknife over units.
Result<Estimate> conger_kappa(const Ratings& ratings);

enum class Metric { kNominal, kOrdinal, kInterval, kRatio };
struct Krippendorff {
  Estimate alpha;                // se by the jackknife over units
  double pairable_values = 0.0;  // n
};
Result<Krippendorff> krippendorff_alpha(const Ratings& ratings, Metric metric);

}  // namespace phren::teaching
