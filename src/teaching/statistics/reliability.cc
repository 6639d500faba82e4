#include "teaching/statistics/reliability.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

#include "teaching/statistics/proportion.h"

namespace phren::teaching {
namespace {

constexpr std::size_t kNone = static_cast<std::size_t>(-1);

// Running sums from which alpha, KR-21 and their delete-one forms follow without a second pass.
struct Sums {
  double n = 0.0, total = 0.0, total_square = 0.0;
  std::vector<double> item, item_square;
};

double total_of(const std::vector<double>& row, std::size_t skip_item = kNone) {
  double sum = 0.0;
  for (std::size_t j = 0; j < row.size(); ++j) sum += j == skip_item ? 0.0 : row[j];
  return sum;
}

void add(Sums& s, const std::vector<double>& row, double sign, std::size_t skip_item = kNone) {
  s.item.resize(row.size());
  s.item_square.resize(row.size());
  const double total = total_of(row, skip_item);
  s.n += sign;
  s.total += sign * total;
  s.total_square += sign * total * total;
  for (std::size_t j = 0; j < row.size(); ++j) {
    if (j == skip_item) continue;
    s.item[j] += sign * row[j];
    s.item_square[j] += sign * row[j] * row[j];
  }
}

Sums sums_of(const Table& scores, std::size_t skip_item = kNone) {
  Sums s;
  for (const auto& row : scores) add(s, row, 1.0, skip_item);
  return s;
}

double variance(double sum, double square, double n) {
  return square / n - sum / n * (sum / n);
}

double alpha_of(const Sums& s, double num_items) {
  double items = 0.0;
  for (std::size_t j = 0; j < s.item.size(); ++j) {
    items += variance(s.item[j], s.item_square[j], s.n);
  }
  return num_items / (num_items - 1.0) * (1.0 - items / variance(s.total, s.total_square, s.n));
}

double kr21_of(const Sums& s, double num_items) {
  const double mean = s.total / s.n;
  return num_items / (num_items - 1.0) *
         (1.0 - mean * (num_items - mean) / (num_items * variance(s.total, s.total_square, s.n)));
}

double sem_of(const Sums& s, double num_items) {
  return std::sqrt(variance(s.total, s.total_square, s.n) * (1.0 - alpha_of(s, num_items)));
}

Status check_scores(const Table& scores) {
  if (scores.size() < 3) {
    return fail(out_of_range("persons", static_cast<double>(scores.size()), "3 or more"));
  }
  if (scores.front().size() < 2) {
    return fail(out_of_range("items", static_cast<double>(scores.front().size()), "2 or more"));
  }
  for (std::size_t i = 0; i < scores.size(); ++i) {
    const std::string row = "person " + std::to_string(i + 1);
    if (scores[i].size() != scores.front().size()) {
      return fail(out_of_range("number of scores of " + row, static_cast<double>(scores[i].size()),
                               std::to_string(scores.front().size()) + ", one per item"));
    }
    for (std::size_t j = 0; j < scores[i].size(); ++j) {
      if (!std::isfinite(scores[i][j])) {
        return fail(out_of_range("score of " + row + " item " + std::to_string(j + 1), scores[i][j],
                                 "a number"));
      }
    }
  }
  const Sums s = sums_of(scores);
  if (variance(s.total, s.total_square, s.n) < 1e-12) {
    return fail(out_of_range("spread of total scores", 0.0,
                             "above 0; everyone has the same total, so reliability is undefined"));
  }
  return {};
}

Status check_binary(const Table& scores) {
  for (std::size_t i = 0; i < scores.size(); ++i) {
    for (std::size_t j = 0; j < scores[i].size(); ++j) {
      if (scores[i][j] != 0.0 && scores[i][j] != 1.0) {
        return fail(out_of_range(
            "score of person " + std::to_string(i + 1) + " item " + std::to_string(j + 1),
            scores[i][j], "0 or 1; use alpha for graded items"));
      }
    }
  }
  return {};
}

template <class Statistic>
Estimate delete_one(const Table& scores, Statistic statistic) {
  const Sums all = sums_of(scores);
  const double k = static_cast<double>(scores.front().size());
  return jackknife(statistic(all, k), scores.size(), [&](std::size_t i) {
    Sums rest = all;
    add(rest, scores[i], -1.0);
    return statistic(rest, k);
  });
}

Estimate feldt(const Table& scores) {
  Estimate alpha = delete_one(scores, alpha_of);
  const double persons = static_cast<double>(scores.size()) - 1.0;
  const double items = static_cast<double>(scores.front().size()) - 1.0;
  alpha.low = 1.0 - (1.0 - alpha.value) * f_quantile(0.975, persons, persons * items);
  alpha.high = 1.0 - (1.0 - alpha.value) * f_quantile(0.025, persons, persons * items);
  return alpha;
}

// Pearson r with Fisher's z interval; NaN when one side has no spread.
Estimate correlation(const std::vector<double>& x, const std::vector<double>& y) {
  const double n = static_cast<double>(x.size());
  const double mean_x = std::accumulate(x.begin(), x.end(), 0.0) / n;
  const double mean_y = std::accumulate(y.begin(), y.end(), 0.0) / n;
  double xx = 0.0, yy = 0.0, xy = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    yy += (y[i] - mean_y) * (y[i] - mean_y);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
  }
  if (xx < 1e-12 || yy < 1e-12) return {};
  const double r = std::clamp(xy / std::sqrt(xx * yy), -1.0, 1.0);
  if (n < 4.0 || std::abs(r) > 1.0 - 1e-12) return {r};
  const double half = normal_quantile(0.975) / std::sqrt(n - 3.0);
  return {r, (1.0 - r * r) / std::sqrt(n - 1.0), std::tanh(std::atanh(r) - half),
          std::tanh(std::atanh(r) + half)};
}

// Mean item score of the `share` persons with the lowest (sign +1) or highest (sign -1) totals.
// Persons tied at the border count with the fraction that fills the group exactly.
double group_mean(const std::vector<double>& item, const std::vector<double>& total, double share,
                  double sign) {
  std::vector<std::size_t> order(total.size());
  std::iota(order.begin(), order.end(), 0u);
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return sign * total[a] < sign * total[b]; });
  const double size = share * static_cast<double>(total.size());
  double taken = 0.0, sum = 0.0;
  for (std::size_t i = 0; i < order.size() && taken < size;) {
    std::size_t end = i;
    double tied_sum = 0.0;
    for (; end < order.size() && total[order[end]] == total[order[i]]; ++end) {
      tied_sum += item[order[end]];
    }
    const double tied = static_cast<double>(end - i);
    const double fraction = std::min(1.0, (size - taken) / tied);
    sum += fraction * tied_sum;
    taken += fraction * tied;
    i = end;
  }
  return sum / size;
}

Estimate upper_lower(const std::vector<double>& item, const std::vector<double>& total,
                     double max_points) {
  constexpr double kShare = 0.27;
  const double size = kShare * static_cast<double>(total.size());
  const double high = std::clamp(group_mean(item, total, kShare, -1.0) / max_points, 0.0, 1.0);
  const double low = std::clamp(group_mean(item, total, kShare, 1.0) / max_points, 0.0, 1.0);
  return proportion_difference(high * size, size, low * size, size).value_or(Estimate{high - low});
}

Estimate difficulty_of(const std::vector<double>& item, double max_points) {
  const double n = static_cast<double>(item.size());
  const double sum = std::accumulate(item.begin(), item.end(), 0.0);
  const bool binary =
      std::all_of(item.begin(), item.end(), [&](double x) { return x == 0.0 || x == max_points; });
  if (binary) return proportion(sum / max_points, n).value_or(Estimate{});
  double square = 0.0;
  for (const double x : item) square += x * x;
  const double se = std::sqrt(variance(sum, square, n) / (n - 1.0)) / max_points;
  return student_estimate(sum / n / max_points, se, n - 1.0, 0.0, 1.0);
}

}  // namespace

Result<Estimate> cronbach_alpha(const Table& scores) {
  TRY(check_scores(scores));
  return feldt(scores);
}

Result<Estimate> kr20(const Table& scores) {
  TRY(check_binary(scores));
  return cronbach_alpha(scores);
}

Result<Estimate> kr21(const Table& scores) {
  TRY(check_binary(scores));
  TRY(check_scores(scores));
  return delete_one(scores, kr21_of);
}

Result<Estimate> standard_error_of_measurement(const Table& scores) {
  TRY(check_scores(scores));
  return delete_one(scores, sem_of);
}

Result<std::vector<ItemAnalysis>> analyse_items(const Table& scores,
                                                const std::vector<double>& max_points) {
  TRY(check_scores(scores));
  const std::size_t k = scores.front().size();
  if (!max_points.empty() && max_points.size() != k) {
    return fail(out_of_range("number of maximum points", static_cast<double>(max_points.size()),
                             std::to_string(k) + ", one per item"));
  }
  std::vector<ItemAnalysis> result(k);
  for (std::size_t j = 0; j < k; ++j) {
    const double maximum = max_points.empty() ? 1.0 : max_points[j];
    if (!(maximum > 0.0)) {
      return fail(
          out_of_range("maximum points of item " + std::to_string(j + 1), maximum, "above 0"));
    }
    std::vector<double> item, total, rest;
    for (const auto& row : scores) {
      item.push_back(row[j]);
      total.push_back(total_of(row));
      rest.push_back(total_of(row, j));
    }
    result[j] = {difficulty_of(item, maximum), correlation(item, total), correlation(item, rest),
                 upper_lower(item, total, maximum),
                 k > 2 ? alpha_of(sums_of(scores, j), static_cast<double>(k - 1))
                       : std::numeric_limits<double>::quiet_NaN()};
  }
  return result;
}

double corrected_for_guessing(double right, double wrong, double options) {
  return right - wrong / (options - 1.0);
}

}  // namespace phren::teaching
