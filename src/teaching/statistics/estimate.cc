#include "teaching/statistics/estimate.h"

#include <utility>
// Boost 1.74 needs <utility> first under C++20.
#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <numbers>

namespace phren::teaching {
namespace {

Estimate around(double value, double half_width, double se, double lowest, double highest) {
  return {value, se, std::clamp(value - half_width, lowest, highest),
          std::clamp(value + half_width, lowest, highest)};
}

}  // namespace

double normal_density(double z) {
  return std::exp(-0.5 * z * z) / std::sqrt(2.0 * std::numbers::pi);
}

double normal_cdf(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

double normal_quantile(double probability) {
  return boost::math::quantile(boost::math::normal(), probability);
}

double student_t_quantile(double probability, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), probability);
}

double f_quantile(double probability, double numerator_df, double denominator_df) {
  return boost::math::quantile(boost::math::fisher_f(numerator_df, denominator_df), probability);
}

Estimate normal_estimate(double value, double se, double lowest, double highest) {
  if (!std::isfinite(se)) return {value};
  return around(value, normal_quantile(0.975) * se, se, lowest, highest);
}

Estimate student_estimate(double value, double se, double degrees_of_freedom, double lowest,
                          double highest) {
  if (!std::isfinite(se) || degrees_of_freedom < 1.0) return {value};
  return around(value, student_t_quantile(0.975, degrees_of_freedom) * se, se, lowest, highest);
}

Estimate jackknife(double value, std::size_t n, const std::function<double(std::size_t)>& without,
                   double lowest, double highest) {
  if (n < 2) return {value};
  std::vector<double> parts(n);
  double mean = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    parts[i] = without(i);
    mean += parts[i] / static_cast<double>(n);
  }
  double squares = 0.0;
  for (const double part : parts) squares += (part - mean) * (part - mean);
  const double count = static_cast<double>(n);
  return student_estimate(value, std::sqrt(squares * (count - 1.0) / count), count - 1.0, lowest,
                          highest);
}

}  // namespace phren::teaching
