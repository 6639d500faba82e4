// A number with its uncertainty: what every statistic of the class page returns.
//
// Shapes:  intervals are 95 % unless the maker says otherwise.
// Errors:  se, low and high are NaN when the data cannot tell (one unit, no spread).
// Source:  jackknife: Efron & Tibshirani 1993, ch. 11 (from memory); t quantiles by Boost.Math.
#pragma once

#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <vector>

namespace phren::teaching {

struct Estimate {
  double value = std::numeric_limits<double>::quiet_NaN();
  double se = std::numeric_limits<double>::quiet_NaN();
  double low = std::numeric_limits<double>::quiet_NaN();
  double high = std::numeric_limits<double>::quiet_NaN();
};

using Table = std::vector<std::vector<double>>;  // [row][column]

double normal_density(double z);
double normal_cdf(double z);
double normal_quantile(double probability);  // 0 < probability < 1
double student_t_quantile(double probability, double degrees_of_freedom);
double f_quantile(double probability, double numerator_df, double denominator_df);

// value +- z(97.5 %) se, cut to [lowest, highest].
Estimate normal_estimate(double value, double se, double lowest = -HUGE_VAL,
                         double highest = HUGE_VAL);
// value +- t(97.5 %, df) se, cut to [lowest, highest].
Estimate student_estimate(double value, double se, double degrees_of_freedom,
                          double lowest = -HUGE_VAL, double highest = HUGE_VAL);

// Calls `without(i)` for i in 0..n-1: the statistic with unit i left out. `value` is the statistic
// of all units. The interval uses t with n-1 degrees of freedom.
Estimate jackknife(double value, std::size_t n, const std::function<double(std::size_t)>& without,
                   double lowest = -HUGE_VAL, double highest = HUGE_VAL);

}  // namespace phren::teaching
