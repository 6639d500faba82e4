#include "teaching/statistics/item_response.h"

#include <algorithm>
#include <cmath>
#include <functional>

namespace phren::teaching {
namespace {

constexpr double kLimit = 12.0;  // logits; a root beyond this is no estimate

double logistic(double x) {
  return x >= 0.0 ? 1.0 / (1.0 + std::exp(-x)) : std::exp(x) / (1.0 + std::exp(x));
}

// Root of a falling function on [-kLimit, kLimit] by bisection: slow and sure.
std::optional<double> root_of(const std::function<double(double)>& falling) {
  double low = -kLimit, high = kLimit;
  if (falling(low) < 0.0 || falling(high) > 0.0) return std::nullopt;
  for (int i = 0; i < 80; ++i) {
    const double middle = (low + high) / 2.0;
    (falling(middle) > 0.0 ? low : high) = middle;
  }
  return (low + high) / 2.0;
}

double score(const Responses& responses, double ability) {
  double sum = 0.0;
  for (const auto& [item, right] : responses) {
    sum += item.slope * ((right ? 1.0 : 0.0) - logistic(item.slope * (ability - item.difficulty)));
  }
  return sum;
}

double log_likelihood(const Responses& responses, double ability) {
  double sum = 0.0;
  for (const auto& [item, right] : responses) {
    const double p = probability_right(item, ability);
    sum += std::log(std::max(1e-300, right ? p : 1.0 - p));
  }
  return sum;
}

}  // namespace

Item item_from_intercept(double slope, double intercept) {
  return {slope, -intercept / slope, 0.0};
}

double probability_right(const Item& item, double ability) {
  return item.guess + (1.0 - item.guess) * logistic(item.slope * (ability - item.difficulty));
}

double information(const Item& item, double ability) {
  const double p = probability_right(item, ability);
  if (p <= 0.0 || p >= 1.0) return 0.0;
  const double above = (p - item.guess) / (1.0 - item.guess);
  return item.slope * item.slope * (1.0 - p) / p * above * above;
}

double test_information(const Responses& responses, double ability) {
  double sum = 0.0;
  for (const Response& response : responses) sum += information(response.item, ability);
  return sum;
}

Estimate ability_eap(const Responses& responses) {
  // Equal steps are exact enough here: the integrand is smooth and gone by +-8.
  constexpr int kSteps = 800;
  constexpr double kStep = 0.02;
  double mass = 0.0, first = 0.0, second = 0.0;
  for (int i = 0; i <= kSteps; ++i) {
    const double ability = -8.0 + kStep * i;
    const double weight = std::exp(log_likelihood(responses, ability) - 0.5 * ability * ability);
    mass += weight;
    first += weight * ability;
    second += weight * ability * ability;
  }
  const double mean = first / mass;
  return normal_estimate(mean, std::sqrt(std::max(0.0, second / mass - mean * mean)));
}

Estimate ability_map(const Responses& responses) {
  const auto root = root_of([&](double ability) { return score(responses, ability) - ability; });
  const double ability = root.value_or(0.0);
  return normal_estimate(ability, 1.0 / std::sqrt(1.0 + test_information(responses, ability)));
}

std::optional<Estimate> ability_mle(const Responses& responses) {
  const auto is_right = [](const Response& r) { return r.right; };
  const auto right = std::count_if(responses.begin(), responses.end(), is_right);
  if (right == 0 || right == static_cast<std::ptrdiff_t>(responses.size())) return std::nullopt;
  const auto root = root_of([&](double ability) { return score(responses, ability); });
  if (!root) return std::nullopt;
  return normal_estimate(*root, 1.0 / std::sqrt(test_information(responses, *root)));
}

std::optional<Estimate> ability_wle(const Responses& responses) {
  const auto equation = [&](double ability) {
    double skew = 0.0;
    for (const Response& r : responses) {
      const double p = logistic(r.item.slope * (ability - r.item.difficulty));
      skew += std::pow(r.item.slope, 3) * p * (1.0 - p) * (1.0 - 2.0 * p);
    }
    return score(responses, ability) + skew / (2.0 * test_information(responses, ability));
  };
  if (responses.empty()) return std::nullopt;
  const auto root = root_of(equation);
  if (!root) return std::nullopt;
  return normal_estimate(*root, 1.0 / std::sqrt(test_information(responses, *root)));
}

}  // namespace phren::teaching
