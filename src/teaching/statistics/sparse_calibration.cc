#include "teaching/statistics/sparse_calibration.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>

namespace phren::teaching {
namespace {

// Equal steps over N(0, 1): exact enough, as the integrand is smooth and gone by +-6.
constexpr int kNumNodes = 61;
constexpr double kFirstNode = -6.0, kNodeStep = 0.2;
constexpr double kFarthest = 8.0;  // logits; an item that all or none get right stays here

double node(int q) {
  return kFirstNode + kNodeStep * q;
}
double logistic(double x) {
  return 1.0 / (1.0 + std::exp(-x));
}

Status check(const std::vector<AnswerCount>& counts, const std::vector<ItemPrior>& items) {
  for (std::size_t j = 0; j < items.size(); ++j) {
    const std::string item = " of item " + std::to_string(j + 1);
    if (!(items[j].guess >= 0.0 && items[j].guess < 1.0)) {
      return fail(out_of_range("guess" + item, items[j].guess, "at least 0 and below 1"));
    }
    if (!(items[j].sd > 0.0) || !std::isfinite(items[j].mean)) {
      return fail(out_of_range("prior sd" + item, items[j].sd, "above 0, about a finite mean"));
    }
  }
  for (std::size_t k = 0; k < counts.size(); ++k) {
    const AnswerCount& one = counts[k];
    const std::string where = " of count " + std::to_string(k + 1);
    if (one.item >= items.size()) {
      return fail(out_of_range("item" + where, static_cast<double>(one.item), "one of the items"));
    }
    if (!(one.right >= 0.0 && one.right <= one.answers && std::isfinite(one.answers))) {
      return fail(out_of_range("right" + where, one.right, "between 0 and the answers"));
    }
  }
  return {};
}

// Chance of each node for one person, given what the person answered.
using Nodes = std::array<double, kNumNodes>;
using Persons = std::vector<std::vector<const AnswerCount*>>;

Nodes posterior(const std::vector<const AnswerCount*>& answers, const std::vector<ItemPrior>& items,
                const std::vector<double>& difficulty) {
  Nodes log_weight{};
  for (int q = 0; q < kNumNodes; ++q) {
    double sum = -0.5 * node(q) * node(q);
    for (const AnswerCount* one : answers) {
      const double guess = items[one->item].guess;
      const double p = guess + (1.0 - guess) * logistic(node(q) - difficulty[one->item]);
      sum += one->right * std::log(p) + (one->answers - one->right) * std::log1p(-p);
    }
    log_weight[static_cast<std::size_t>(q)] = sum;
  }
  const double most = *std::max_element(log_weight.begin(), log_weight.end());
  double all = 0.0;
  for (double& one : log_weight) all += one = std::exp(one - most);
  for (double& one : log_weight) one /= all;
  return log_weight;
}

// Slope and curvature of the log likelihood to the difficulty, at one node.
struct Derivatives {
  double slope = 0.0, curvature = 0.0;  // curvature of minus the log likelihood
};
Derivatives derivatives(double answers, double right, double guess, double ability,
                        double difficulty) {
  const double l = logistic(ability - difficulty);
  const double p = guess + (1.0 - guess) * l;
  return {answers * l - right * l / p, l * (1.0 - l) * (answers - right * guess / (p * p))};
}

// One item's most likely difficulty, given how the answers are spread over the nodes.
double best_difficulty(const Nodes& answers, const Nodes& right, const ItemPrior& prior,
                       double start) {
  const double precision = 1.0 / (prior.sd * prior.sd);
  double b = start;
  for (int step = 0; step < 20; ++step) {
    double slope = -(b - prior.mean) * precision, information = precision;
    for (std::size_t q = 0; q < kNumNodes; ++q) {
      const double ability = node(static_cast<int>(q)), n = answers[q];
      slope += derivatives(n, right[q], prior.guess, ability, b).slope;
      const double l = logistic(ability - b);
      information += n * (1.0 - prior.guess) * l * l * (1.0 - l) /
                     (prior.guess + (1.0 - prior.guess) * l);  // expected: never below 0
    }
    if (information <= 0.0) return b;
    const double move = std::clamp(slope / information, -1.0, 1.0);
    b = std::clamp(b + move, -kFarthest, kFarthest);
    if (std::abs(move) < 1e-10) break;
  }
  return b;
}

// One round of expectation and maximisation; the largest change.
double improve(const Persons& persons, const std::vector<ItemPrior>& items,
               std::vector<double>& difficulty) {
  std::vector<Nodes> answers(items.size(), Nodes{}), right(items.size(), Nodes{});
  for (const auto& person : persons) {
    const Nodes weight = posterior(person, items, difficulty);
    for (const AnswerCount* one : person) {
      for (std::size_t q = 0; q < kNumNodes; ++q) {
        answers[one->item][q] += weight[q] * one->answers;
        right[one->item][q] += weight[q] * one->right;
      }
    }
  }
  double largest = 0.0;
  for (std::size_t j = 0; j < items.size(); ++j) {
    const double better = best_difficulty(answers[j], right[j], items[j], difficulty[j]);
    largest = std::max(largest, std::abs(better - difficulty[j]));
    difficulty[j] = better;
  }
  return largest;
}

// Observed information: what complete data would tell, less what not knowing the abilities costs.
Eigen::MatrixXd information_of(const Persons& persons, const std::vector<ItemPrior>& items,
                               const std::vector<double>& difficulty) {
  const auto k = static_cast<Eigen::Index>(items.size());
  Eigen::MatrixXd total = Eigen::MatrixXd::Zero(k, k);
  for (Eigen::Index j = 0; j < k; ++j) {
    const double sd = items[static_cast<std::size_t>(j)].sd;
    total(j, j) = 1.0 / (sd * sd);
  }
  for (const auto& person : persons) {
    const Nodes weight = posterior(person, items, difficulty);
    const std::size_t n = person.size();
    std::vector<double> mean(n, 0.0);
    std::vector<Nodes> slopes(n);
    for (std::size_t a = 0; a < n; ++a) {
      const AnswerCount& one = *person[a];
      const auto j = static_cast<Eigen::Index>(one.item);
      for (std::size_t q = 0; q < kNumNodes; ++q) {
        const auto d = derivatives(one.answers, one.right, items[one.item].guess,
                                   node(static_cast<int>(q)), difficulty[one.item]);
        slopes[a][q] = d.slope;
        mean[a] += weight[q] * d.slope;
        total(j, j) += weight[q] * d.curvature;
      }
    }
    for (std::size_t a = 0; a < n; ++a) {
      for (std::size_t b = 0; b < n; ++b) {
        double both = 0.0;
        for (std::size_t q = 0; q < kNumNodes; ++q) both += weight[q] * slopes[a][q] * slopes[b][q];
        total(static_cast<Eigen::Index>(person[a]->item),
              static_cast<Eigen::Index>(person[b]->item)) -= both - mean[a] * mean[b];
      }
    }
  }
  return total;
}

}  // namespace

Result<std::vector<SparseDifficulty>> calibrate_sparse(const std::vector<AnswerCount>& counts,
                                                       const std::vector<ItemPrior>& items) {
  TRY(check(counts, items));
  std::size_t num_persons = 0;
  for (const AnswerCount& one : counts) num_persons = std::max(num_persons, one.person + 1);
  Persons persons(num_persons);
  std::vector<SparseDifficulty> result(items.size());
  for (const AnswerCount& one : counts) {
    if (one.answers <= 0.0) continue;
    persons[one.person].push_back(&one);
    ++result[one.item].persons;
    result[one.item].answers += one.answers;
    result[one.item].right += one.right;
  }
  std::vector<double> difficulty;
  for (const ItemPrior& prior : items) difficulty.push_back(prior.mean);
  for (int round = 0; round < 2000 && improve(persons, items, difficulty) > 1e-7; ++round) {
  }
  const Eigen::MatrixXd information = information_of(persons, items, difficulty);
  const Eigen::MatrixXd covariance = information.inverse();
  for (std::size_t j = 0; j < items.size(); ++j) {
    const auto at = static_cast<Eigen::Index>(j);
    result[j].difficulty =
        normal_estimate(difficulty[j], std::sqrt(std::max(0.0, covariance(at, at))));
  }
  return result;
}

Item item_of_uncertain_difficulty(double difficulty, double se, double guess) {
  return {1.0 / std::sqrt(1.0 + std::numbers::pi * se * se / 8.0), difficulty, guess};
}

}  // namespace phren::teaching
