#include "teaching/statistics/standard_setting.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace phren::teaching {
namespace {

double mean_of(const std::vector<double>& x) {
  return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}

double sd_of(const std::vector<double>& x) {
  const double mean = mean_of(x);
  double squares = 0.0;
  for (const double value : x) squares += (value - mean) * (value - mean);
  return std::sqrt(squares / (static_cast<double>(x.size()) - 1.0));
}

Estimate mean_estimate(const std::vector<double>& x) {
  if (x.size() < 2) return {mean_of(x)};
  const double n = static_cast<double>(x.size());
  return student_estimate(mean_of(x), sd_of(x) / std::sqrt(n), n - 1.0);
}

std::size_t count_borderline(const std::vector<Candidate>& candidates, double rating) {
  return static_cast<std::size_t>(
      std::count_if(candidates.begin(), candidates.end(),
                    [&](const Candidate& c) { return std::abs(c.global_rating - rating) < 1e-9; }));
}

std::vector<std::string> doubts(const BorderlineRegression& fit, std::size_t n,
                                std::size_t num_borderline) {
  std::vector<std::string> warnings;
  if (num_borderline < 3) {
    warnings.push_back("only " + std::to_string(num_borderline) +
                       (num_borderline == 1 ? " learner" : " learners") +
                       " rated borderline; treat this as a guess");
  }
  if (fit.r_squared < 0.5) {
    warnings.push_back("R squared is below 0.5: ratings and checklist hardly agree");
  }
  if (n < 10) warnings.push_back("fewer than 10 candidates: the cut is rough");
  return warnings;
}

}  // namespace

Result<AngoffCut> angoff_cut(const Table& chance) {
  if (chance.size() < kFewestJudges) {
    return fail(out_of_range("judges", static_cast<double>(chance.size()), "2 or more"));
  }
  AngoffCut cut;
  for (std::size_t judge = 0; judge < chance.size(); ++judge) {
    const std::string who = "judge " + std::to_string(judge + 1);
    if (chance[judge].empty() || chance[judge].size() != chance.front().size()) {
      return fail(out_of_range("items of " + who, static_cast<double>(chance[judge].size()),
                               std::to_string(chance.front().size()) + ", as for the first judge"));
    }
    for (std::size_t item = 0; item < chance[judge].size(); ++item) {
      const double p = chance[judge][item];
      if (!(p >= 0.0 && p <= 1.0)) {
        return fail(out_of_range(who + " item " + std::to_string(item + 1), p, "between 0 and 1"));
      }
    }
    cut.judge_sums.push_back(std::accumulate(chance[judge].begin(), chance[judge].end(), 0.0));
  }
  const double items = static_cast<double>(chance.front().size());
  cut.points = mean_estimate(cut.judge_sums);
  cut.points.low = std::max(0.0, cut.points.low);
  cut.points.high = std::min(items, cut.points.high);
  cut.share_of_maximum = cut.points.value / items;
  cut.sd_between_judges = sd_of(cut.judge_sums);
  return cut;
}

Result<BorderlineRegression> borderline_regression(const std::vector<Candidate>& candidates,
                                                   double borderline_rating) {
  if (candidates.size() < kFewestCandidates) {
    return fail(out_of_range("candidates", static_cast<double>(candidates.size()), "4 or more"));
  }
  std::vector<double> x, y;
  for (const Candidate& c : candidates) {
    x.push_back(c.global_rating);
    y.push_back(c.checklist_points);
  }
  const auto [lowest, highest] = std::minmax_element(x.begin(), x.end());
  if (*lowest == *highest) {
    return fail(out_of_range("spread of global ratings", 0.0, "above 0; all are equal"));
  }
  const double n = static_cast<double>(x.size()), mean_x = mean_of(x), mean_y = mean_of(y);
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
    yy += (y[i] - mean_y) * (y[i] - mean_y);
  }
  BorderlineRegression fit;
  fit.slope = xy / xx;
  if (!(fit.slope > 0.0)) {
    return fail(out_of_range("slope of checklist on rating", fit.slope,
                             "above 0; better rated candidates must score higher"));
  }
  fit.intercept = mean_y - fit.slope * mean_x;
  fit.r_squared = xy * xy / (xx * yy);
  fit.residual_sd = std::sqrt(std::max(0.0, yy - fit.slope * xy) / (n - 2.0));
  const double off = borderline_rating - mean_x;
  fit.cut = student_estimate(fit.intercept + fit.slope * borderline_rating,
                             fit.residual_sd * std::sqrt(1.0 / n + off * off / xx), n - 2.0);
  fit.warnings = doubts(fit, x.size(), count_borderline(candidates, borderline_rating));
  if (borderline_rating < *lowest || borderline_rating > *highest) {
    fit.warnings.push_back("the borderline rating lies outside the ratings given");
  }
  return fit;
}

Result<BorderlineGroup> borderline_group(const std::vector<Candidate>& candidates,
                                         double borderline_rating) {
  std::vector<double> points;
  for (const Candidate& c : candidates) {
    if (std::abs(c.global_rating - borderline_rating) < 1e-9) points.push_back(c.checklist_points);
  }
  if (points.empty()) {
    return fail(out_of_range("candidates rated borderline", 0.0, "1 or more"));
  }
  std::sort(points.begin(), points.end());
  const std::size_t half = points.size() / 2;
  BorderlineGroup group;
  group.mean = mean_estimate(points);
  group.median = points.size() % 2 == 1 ? points[half] : (points[half - 1] + points[half]) / 2.0;
  group.num_borderline = points.size();
  if (points.size() < 5) {
    const bool is_one = points.size() == 1;
    group.warnings.push_back("only " + std::to_string(points.size()) +
                             (is_one ? " learner" : " learners") +
                             " rated borderline; treat this as a guess");
  }
  return group;
}

}  // namespace phren::teaching
