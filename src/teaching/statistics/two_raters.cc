#include "teaching/statistics/two_raters.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "teaching/statistics/many_raters.h"

namespace phren::teaching {
namespace {

Table weights_by(std::size_t q, double (*of_distance)(double)) {
  Table weights(q, std::vector<double>(q));
  const double span = q > 1 ? static_cast<double>(q - 1) : 1.0;
  for (std::size_t i = 0; i < q; ++i) {
    for (std::size_t j = 0; j < q; ++j) {
      weights[i][j] =
          1.0 - of_distance(std::abs(static_cast<double>(i) - static_cast<double>(j)) / span);
    }
  }
  return weights;
}

Status check_square(const Table& table, const char* what) {
  const std::size_t q = table.size();
  if (q < 2) {
    return fail(
        out_of_range(std::string(what) + " categories", static_cast<double>(q), "2 or more"));
  }
  for (std::size_t i = 0; i < q; ++i) {
    const std::string row = std::string(what) + " row " + std::to_string(i + 1);
    if (table[i].size() != q) {
      return fail(out_of_range("length of " + row, static_cast<double>(table[i].size()),
                               std::to_string(q) + ", as many as rows"));
    }
    for (std::size_t j = 0; j < q; ++j) {
      if (!(table[i][j] >= 0.0 && std::isfinite(table[i][j]))) {
        return fail(
            out_of_range(row + " column " + std::to_string(j + 1), table[i][j], "0 or more"));
      }
    }
  }
  return {};
}

struct Margins {
  double n = 0.0;
  std::vector<double> row, column;  // proportions
};

Margins margins_of(const Table& counts) {
  const std::size_t q = counts.size();
  Margins m{0.0, std::vector<double>(q), std::vector<double>(q)};
  for (const auto& row : counts) {
    for (const double count : row) m.n += count;
  }
  for (std::size_t i = 0; i < q; ++i) {
    for (std::size_t j = 0; j < q; ++j) {
      m.row[i] += counts[i][j] / m.n;
      m.column[j] += counts[i][j] / m.n;
    }
  }
  return m;
}

// Mean weight of a row category over the other rater's choices, and the same for columns.
void mean_weights(const Table& weights, const Margins& m, std::vector<double>& by_row,
                  std::vector<double>& by_column) {
  const std::size_t q = weights.size();
  by_row.assign(q, 0.0);
  by_column.assign(q, 0.0);
  for (std::size_t i = 0; i < q; ++i) {
    for (std::size_t j = 0; j < q; ++j) {
      by_row[i] += weights[i][j] * m.column[j];
      by_column[j] += weights[i][j] * m.row[i];
    }
  }
}

// Each cell of the table as a rated unit of two ratings, repeated as often as it was seen.
std::vector<RatedUnit> units_of(const Table& counts) {
  std::vector<RatedUnit> units;
  for (std::size_t i = 0; i < counts.size(); ++i) {
    for (std::size_t j = 0; j < counts.size(); ++j) {
      if (counts[i][j] <= 0.0) continue;
      RatedUnit unit{std::vector<double>(counts.size(), 0.0), counts[i][j]};
      unit.counts[i] += 1.0;
      unit.counts[j] += 1.0;
      units.push_back(std::move(unit));
    }
  }
  return units;
}

}  // namespace

Table unweighted(std::size_t q) {
  return weights_by(q, [](double d) { return d > 0.0 ? 1.0 : 0.0; });
}
Table linear_weights(std::size_t q) {
  return weights_by(q, [](double d) { return d; });
}
Table quadratic_weights(std::size_t q) {
  return weights_by(q, [](double d) { return d * d; });
}

Table agreement_from_disagreement(const Table& disagreement) {
  double largest = 0.0;
  for (const auto& row : disagreement) {
    for (const double d : row) largest = std::max(largest, d);
  }
  Table weights = disagreement;
  for (auto& row : weights) {
    for (double& w : row) w = largest > 0.0 ? 1.0 - w / largest : 1.0;
  }
  return weights;
}

Result<Kappa> cohen_kappa(const Table& counts, const Table& weights) {
  TRY(check_square(counts, "table"));
  TRY(check_square(weights, "weights"));
  const std::size_t q = counts.size();
  if (weights.size() != q) {
    return fail(out_of_range("weights rows", static_cast<double>(weights.size()),
                             std::to_string(q) + ", as many as categories"));
  }
  const Margins m = margins_of(counts);
  if (!(m.n > 0.0)) return fail(out_of_range("total of the table", m.n, "above 0"));
  Kappa k;
  k.n = m.n;
  std::vector<double> by_row, by_column;
  mean_weights(weights, m, by_row, by_column);
  for (std::size_t i = 0; i < q; ++i) {
    for (std::size_t j = 0; j < q; ++j) {
      k.observed += weights[i][j] * counts[i][j] / m.n;
      k.expected += weights[i][j] * m.row[i] * m.column[j];
    }
  }
  const double beyond = 1.0 - k.expected;
  if (beyond < 1e-12) {
    return fail(out_of_range("agreement expected by chance", k.expected,
                             "below 1; both raters used one category only, so kappa is undefined"));
  }
  double spread = 0.0, null_spread = 0.0;
  for (std::size_t i = 0; i < q; ++i) {
    for (std::size_t j = 0; j < q; ++j) {
      const double mean = by_row[i] + by_column[j];
      spread +=
          counts[i][j] / m.n * std::pow(weights[i][j] * beyond - mean * (1.0 - k.observed), 2);
      null_spread += m.row[i] * m.column[j] * std::pow(weights[i][j] - mean, 2);
    }
  }
  spread -= std::pow(k.observed * k.expected - 2.0 * k.expected + k.observed, 2);
  k.kappa = normal_estimate((k.observed - k.expected) / beyond,
                            std::sqrt(std::max(0.0, spread) / m.n) / (beyond * beyond), -1.0, 1.0);
  k.se_null = std::sqrt(std::max(0.0, null_spread - k.expected * k.expected) / m.n) / beyond;
  return k;
}

Result<TwoRaters> two_raters(const Table& counts) {
  const std::size_t q = counts.size();
  const auto plain = TRY(cohen_kappa(counts, unweighted(q)));
  const auto linear = TRY(cohen_kappa(counts, linear_weights(q)));
  const auto quadratic = TRY(cohen_kappa(counts, quadratic_weights(q)));
  const auto units = units_of(counts);
  const auto pi = TRY(fleiss_kappa(units));  // with two raters, Fleiss's kappa is Scott's pi
  const auto ac1 = TRY(gwet_ac1(units));
  const auto bp = TRY(brennan_prediger(units));
  return TwoRaters{plain, linear, quadratic, pi, ac1, bp};
}

const char* landis_koch_word(double coefficient) {
  if (coefficient < 0.0) return "poor";
  if (coefficient <= 0.2) return "slight";
  if (coefficient <= 0.4) return "fair";
  if (coefficient <= 0.6) return "moderate";
  return coefficient <= 0.8 ? "substantial" : "almost perfect";
}

}  // namespace phren::teaching
