#include "teaching/statistics/many_raters.h"

#include <cmath>
#include <numeric>
#include <set>
#include <string>

namespace phren::teaching {
namespace {

struct Shares {
  double n = 0.0;         // units with at least one rating
  double n_paired = 0.0;  // units with at least two
  double observed = 0.0;
  std::size_t q = 0;
  std::vector<double> category;  // mean share of each category over units
};

double raters_of(const RatedUnit& unit) {
  return std::accumulate(unit.counts.begin(), unit.counts.end(), 0.0);
}

double pair_agreement(const RatedUnit& unit) {
  const double r = raters_of(unit);
  double sum = 0.0;
  for (const double count : unit.counts) sum += count * (count - 1.0);
  return r >= 2.0 ? sum / (r * (r - 1.0)) : 0.0;
}

Result<Shares> shares_of(const std::vector<RatedUnit>& units) {
  Shares s;
  if (units.empty()) return fail(out_of_range("units", 0.0, "2 or more"));
  s.q = units.front().counts.size();
  s.category.assign(s.q, 0.0);
  if (s.q < 2) {
    return fail(out_of_range("categories", static_cast<double>(s.q), "2 or more in use"));
  }
  for (const RatedUnit& unit : units) {
    if (unit.counts.size() != s.q) {
      return fail(out_of_range("categories of a unit", static_cast<double>(unit.counts.size()),
                               std::to_string(s.q) + ", as for the first unit"));
    }
    const double r = raters_of(unit);
    if (r <= 0.0) continue;
    s.n += unit.repeats;
    for (std::size_t k = 0; k < s.q; ++k) s.category[k] += unit.repeats * unit.counts[k] / r;
    if (r < 2.0) continue;
    s.n_paired += unit.repeats;
    s.observed += unit.repeats * pair_agreement(unit);
  }
  if (s.n_paired < 2.0) {
    return fail(out_of_range("units rated at least twice", s.n_paired, "2 or more"));
  }
  s.observed /= s.n_paired;
  for (double& share : s.category) share /= s.n;
  return s;
}

// Gwet's linearised variance. `chance_slope[k]` is half the derivative of expected agreement to the
// share of category k; zero for coefficients whose chance term is fixed.
Result<Estimate> chance_corrected(const std::vector<RatedUnit>& units, const Shares& s,
                                  double expected, const std::vector<double>& chance_slope) {
  const double beyond = 1.0 - expected;
  if (beyond < 1e-12) {
    return fail(out_of_range("agreement expected by chance", expected,
                             "below 1; one category only was used, so agreement is undefined"));
  }
  const double value = (s.observed - expected) / beyond;
  double slope_mean = 0.0;
  for (std::size_t k = 0; k < s.q; ++k) slope_mean += chance_slope[k] * s.category[k];
  double squares = 0.0;
  for (const RatedUnit& unit : units) {
    const double r = raters_of(unit);
    if (r <= 0.0) continue;
    double own = 0.0;
    if (r >= 2.0) own = s.n / s.n_paired * (pair_agreement(unit) - expected) / beyond;
    double slope = 0.0;
    for (std::size_t k = 0; k < s.q; ++k) slope += chance_slope[k] * unit.counts[k] / r;
    own -= 2.0 * (1.0 - value) * (slope - slope_mean) / beyond;
    squares += unit.repeats * (own - value) * (own - value);
  }
  const double se = std::sqrt(squares / (s.n * (s.n - 1.0)));
  return student_estimate(value, se, s.n - 1.0, -1.0, 1.0);
}

struct Coincidences {
  std::vector<double> codes;
  Table pairs;                 // o[c][k]
  std::vector<double> margin;  // n_c
  double n = 0.0;
};

Coincidences coincidences_of(const Ratings& ratings, std::size_t skip_unit) {
  std::set<double> codes;
  const std::size_t num_units = ratings.front().size();
  for (const auto& row : ratings) {
    for (const auto& code : row) {
      if (code) codes.insert(*code);
    }
  }
  Coincidences c;
  c.codes.assign(codes.begin(), codes.end());
  const std::size_t q = c.codes.size();
  c.pairs.assign(q, std::vector<double>(q, 0.0));
  c.margin.assign(q, 0.0);
  for (std::size_t u = 0; u < num_units; ++u) {
    std::vector<std::size_t> seen;
    for (const auto& row : ratings) {
      if (u == skip_unit || !row[u]) continue;
      const auto place = codes.find(*row[u]);
      seen.push_back(static_cast<std::size_t>(std::distance(codes.begin(), place)));
    }
    if (seen.size() < 2) continue;
    const double share = 1.0 / (static_cast<double>(seen.size()) - 1.0);
    for (std::size_t a = 0; a < seen.size(); ++a) {
      for (std::size_t b = 0; b < seen.size(); ++b) {
        if (a != b) c.pairs[seen[a]][seen[b]] += share;
      }
      c.margin[seen[a]] += 1.0;
      c.n += 1.0;
    }
  }
  return c;
}

double distance(const Coincidences& c, Metric metric, std::size_t a, std::size_t b) {
  if (a == b) return 0.0;
  const double difference = c.codes[a] - c.codes[b];
  if (metric == Metric::kNominal) return 1.0;
  if (metric == Metric::kInterval) return difference * difference;
  if (metric == Metric::kRatio) return std::pow(difference / (c.codes[a] + c.codes[b]), 2);
  double between = -(c.margin[a] + c.margin[b]) / 2.0;
  for (std::size_t g = std::min(a, b); g <= std::max(a, b); ++g) between += c.margin[g];
  return between * between;
}

double alpha_of(const Coincidences& c, Metric metric) {
  double observed = 0.0, expected = 0.0;
  for (std::size_t a = 0; a < c.codes.size(); ++a) {
    for (std::size_t b = 0; b < c.codes.size(); ++b) {
      const double d = distance(c, metric, a, b);
      observed += c.pairs[a][b] * d;
      expected += c.margin[a] * c.margin[b] * d;
    }
  }
  return 1.0 - (c.n - 1.0) * observed / expected;
}

Status check_shape(const Ratings& ratings) {
  if (ratings.size() < 2) {
    return fail(out_of_range("raters", static_cast<double>(ratings.size()), "2 or more"));
  }
  for (std::size_t r = 0; r < ratings.size(); ++r) {
    if (ratings[r].size() != ratings.front().size()) {
      return fail(out_of_range(
          "units of rater " + std::to_string(r + 1), static_cast<double>(ratings[r].size()),
          std::to_string(ratings.front().size()) + ", as for the first rater"));
    }
  }
  return {};
}

// Chance agreement when each rater keeps to his or her own habits.
double conger_expected(const Ratings& ratings, std::size_t q, const std::set<double>& codes,
                       std::size_t skip_unit) {
  std::vector<double> mean(q, 0.0), mean_square(q, 0.0);
  double raters = 0.0;
  for (const auto& row : ratings) {
    std::vector<double> share(q, 0.0);
    double rated = 0.0;
    for (std::size_t u = 0; u < row.size(); ++u) {
      if (u == skip_unit || !row[u]) continue;
      const auto place = codes.find(*row[u]);
      share[static_cast<std::size_t>(std::distance(codes.begin(), place))] += 1.0;
      rated += 1.0;
    }
    if (rated <= 0.0) continue;
    raters += 1.0;
    for (std::size_t k = 0; k < q; ++k) {
      mean[k] += share[k] / rated;
      mean_square[k] += share[k] / rated * share[k] / rated;
    }
  }
  double expected = 0.0;
  for (std::size_t k = 0; k < q; ++k) {
    // Sum over distinct pairs of raters of the product of their shares.
    expected += (mean[k] * mean[k] - mean_square[k]) / (raters * (raters - 1.0));
  }
  return expected;
}

Result<double> conger_value(const Ratings& ratings, std::size_t skip_unit) {
  std::vector<RatedUnit> units = units_from_ratings(ratings);
  if (skip_unit < units.size()) {
    units.erase(units.begin() + static_cast<std::ptrdiff_t>(skip_unit));
  }
  const auto s = TRY(shares_of(units));
  std::set<double> codes;
  for (const auto& row : ratings) {
    for (const auto& code : row) {
      if (code) codes.insert(*code);
    }
  }
  const double expected = conger_expected(ratings, s.q, codes, skip_unit);
  if (1.0 - expected < 1e-12) {
    return fail(out_of_range("agreement expected by chance", expected, "below 1"));
  }
  return (s.observed - expected) / (1.0 - expected);
}

constexpr std::size_t kNone = static_cast<std::size_t>(-1);

}  // namespace

std::vector<RatedUnit> units_from_ratings(const Ratings& ratings) {
  std::set<double> codes;
  for (const auto& row : ratings) {
    for (const auto& code : row) {
      if (code) codes.insert(*code);
    }
  }
  std::vector<RatedUnit> units(ratings.empty() ? 0 : ratings.front().size(),
                               RatedUnit{std::vector<double>(codes.size(), 0.0)});
  for (const auto& row : ratings) {
    for (std::size_t u = 0; u < row.size() && u < units.size(); ++u) {
      if (!row[u]) continue;
      const auto place = std::distance(codes.begin(), codes.find(*row[u]));
      units[u].counts[static_cast<std::size_t>(place)] += 1.0;
    }
  }
  return units;
}

Result<double> observed_agreement(const std::vector<RatedUnit>& units) {
  const auto s = TRY(shares_of(units));
  return s.observed;
}

Result<Estimate> fleiss_kappa(const std::vector<RatedUnit>& units) {
  const auto s = TRY(shares_of(units));
  double expected = 0.0;
  for (const double share : s.category) expected += share * share;
  return chance_corrected(units, s, expected, s.category);
}

Result<Estimate> gwet_ac1(const std::vector<RatedUnit>& units) {
  const auto s = TRY(shares_of(units));
  const double others = static_cast<double>(s.q) - 1.0;
  double expected = 0.0;
  std::vector<double> slope(s.q);
  for (std::size_t k = 0; k < s.q; ++k) {
    expected += s.category[k] * (1.0 - s.category[k]) / others;
    slope[k] = (1.0 - s.category[k]) / others;
  }
  return chance_corrected(units, s, expected, slope);
}

Result<Estimate> brennan_prediger(const std::vector<RatedUnit>& units) {
  const auto s = TRY(shares_of(units));
  return chance_corrected(units, s, 1.0 / static_cast<double>(s.q), std::vector<double>(s.q, 0.0));
}

Result<FleissDetail> fleiss_detail(const std::vector<RatedUnit>& units) {
  const auto s = TRY(shares_of(units));
  const double raters = raters_of(units.front());
  for (const RatedUnit& unit : units) {
    if (raters_of(unit) != raters) {
      return fail(out_of_range("ratings of a unit", raters_of(unit),
                               "the same for every unit; use alpha or AC1 with gaps"));
    }
  }
  FleissDetail d;
  d.observed = s.observed;
  double spread = 0.0, skew = 0.0;
  const double pairs = s.n * raters * (raters - 1.0);
  for (std::size_t k = 0; k < s.q; ++k) {
    const double p = s.category[k], q = 1.0 - p;
    d.expected += p * p;
    spread += p * q;
    skew += p * q * (q - p);
    double mixed = 0.0;
    for (const RatedUnit& unit : units) {
      mixed += unit.repeats * unit.counts[k] * (raters - unit.counts[k]);
    }
    d.per_category.push_back(1.0 - mixed / (pairs * p * q));
  }
  d.kappa = (d.observed - d.expected) / (1.0 - d.expected);
  d.se_null = std::sqrt(2.0 * (spread * spread - skew)) / (spread * std::sqrt(pairs));
  d.z = d.kappa / d.se_null;
  return d;
}

Result<Estimate> conger_kappa(const Ratings& ratings) {
  TRY(check_shape(ratings));
  const auto value = TRY(conger_value(ratings, kNone));
  return jackknife(
      value, ratings.front().size(),
      [&](std::size_t u) { return conger_value(ratings, u).value_or(NAN); }, -1.0, 1.0);
}

Result<Krippendorff> krippendorff_alpha(const Ratings& ratings, Metric metric) {
  TRY(check_shape(ratings));
  const Coincidences c = coincidences_of(ratings, kNone);
  if (c.n < 4.0) {
    return fail(out_of_range("pairable ratings", c.n, "4 or more, in two units rated twice"));
  }
  if (metric == Metric::kRatio && c.codes.front() < 0.0) {
    return fail(out_of_range("lowest code", c.codes.front(), "0 or more for ratio data"));
  }
  const double value = alpha_of(c, metric);
  if (!std::isfinite(value)) {
    return fail(out_of_range("variation", 0.0, "above 0; all ratings are equal"));
  }
  std::vector<std::size_t> paired;
  for (std::size_t u = 0; u < ratings.front().size(); ++u) {
    if (coincidences_of(ratings, u).n < c.n) paired.push_back(u);
  }
  return Krippendorff{
      jackknife(
          value, paired.size(),
          [&](std::size_t i) { return alpha_of(coincidences_of(ratings, paired[i]), metric); },
          -1.0, 1.0),
      c.n};
}

}  // namespace phren::teaching
