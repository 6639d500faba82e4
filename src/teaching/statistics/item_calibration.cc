#include "teaching/statistics/item_calibration.h"

#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <string>

namespace phren::teaching {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int kNodes = 241;
constexpr double kNodeStep = 0.05;  // abilities -6..6

double node(int i) {
  return (i - kNodes / 2) * kNodeStep;
}

// Marginal likelihood with parameters laid out as the model wants them.
class Marginal {
 public:
  Marginal(const std::vector<AnswerPattern>& patterns, SlopeModel model)
      : patterns_(patterns), model_(model), k_(patterns.front().right.size()) {
    double mass = 0.0;
    for (int i = 0; i < kNodes; ++i)
      mass += weight_[static_cast<std::size_t>(i)] = normal_density(node(i));
    for (double& w : weight_) w /= mass;
  }

  std::size_t num_slopes() const {
    return model_ == SlopeModel::kUnit ? 0 : model_ == SlopeModel::kCommon ? 1 : k_;
  }
  Eigen::Index slope_index(std::size_t item) const {
    return static_cast<Eigen::Index>(model_ == SlopeModel::kFree ? item : 0);
  }
  Eigen::Index intercept_index(std::size_t item) const {
    return static_cast<Eigen::Index>(num_slopes() + item);
  }
  double slope(const VectorXd& x, std::size_t item) const {
    return model_ == SlopeModel::kUnit ? 1.0 : x(slope_index(item));
  }
  double intercept(const VectorXd& x, std::size_t item) const { return x(intercept_index(item)); }

  VectorXd start() const {
    VectorXd x = VectorXd::Ones(static_cast<Eigen::Index>(num_slopes() + k_));
    for (std::size_t j = 0; j < k_; ++j) {
      double right = 0.0, n = 0.0;
      for (const auto& p : patterns_) {
        right += p.frequency * p.right[j];
        n += p.frequency;
      }
      x(intercept_index(j)) = 1.2 * std::log(right / (n - right));
    }
    return x;
  }

  // log L, and its gradient by Fisher's identity: the expected gradient given the answers.
  double evaluate(const VectorXd& x, VectorXd* gradient) const {
    const auto num_items = static_cast<Eigen::Index>(k_);
    MatrixXd p(kNodes, num_items);
    MatrixXd log_odds(kNodes, num_items);
    VectorXd all_wrong = VectorXd::Zero(kNodes);
    for (std::size_t j = 0; j < k_; ++j) {
      for (int i = 0; i < kNodes; ++i) {
        const double z = slope(x, j) * node(i) + intercept(x, j);
        log_odds(i, static_cast<Eigen::Index>(j)) = z;
        p(i, static_cast<Eigen::Index>(j)) = 1.0 / (1.0 + std::exp(-z));
        all_wrong(i) -= z > 30.0 ? z : std::log1p(std::exp(z));
      }
    }
    if (gradient != nullptr) *gradient = VectorXd::Zero(x.size());
    double log_likelihood = 0.0;
    for (const AnswerPattern& pattern : patterns_) {
      if (pattern.frequency <= 0.0) continue;
      VectorXd posterior = all_wrong;
      for (std::size_t j = 0; j < k_; ++j) {
        if (pattern.right[j] != 0) posterior += log_odds.col(static_cast<Eigen::Index>(j));
      }
      for (int i = 0; i < kNodes; ++i) {
        posterior(i) = weight_[static_cast<std::size_t>(i)] * std::exp(posterior(i));
      }
      const double mass = posterior.sum();
      log_likelihood += pattern.frequency * std::log(mass);
      if (gradient != nullptr) add_gradient(pattern, posterior / mass, p, *gradient);
    }
    return log_likelihood;
  }

  MatrixXd hessian(const VectorXd& x) const {
    const Eigen::Index size = x.size();
    MatrixXd h(size, size);
    constexpr double kDelta = 1e-5;
    for (Eigen::Index c = 0; c < size; ++c) {
      VectorXd up = x, down = x, g_up, g_down;
      up(c) += kDelta;
      down(c) -= kDelta;
      evaluate(up, &g_up);
      evaluate(down, &g_down);
      h.col(c) = (g_up - g_down) / (2.0 * kDelta);
    }
    return (h + h.transpose()) / 2.0;
  }

 private:
  void add_gradient(const AnswerPattern& pattern, const VectorXd& posterior, const MatrixXd& p,
                    VectorXd& gradient) const {
    for (std::size_t j = 0; j < k_; ++j) {
      double d_slope = 0.0, d_intercept = 0.0;
      for (int i = 0; i < kNodes; ++i) {
        const double residual =
            posterior(i) * (pattern.right[j] - p(i, static_cast<Eigen::Index>(j)));
        d_intercept += residual;
        d_slope += residual * node(i);
      }
      gradient(intercept_index(j)) += pattern.frequency * d_intercept;
      if (num_slopes() > 0) gradient(slope_index(j)) += pattern.frequency * d_slope;
    }
  }

  const std::vector<AnswerPattern>& patterns_;
  SlopeModel model_;
  std::size_t k_;
  std::array<double, kNodes> weight_{};
};

struct Maximum {
  VectorXd at;
  MatrixXd covariance;
  double value = 0.0;
  bool converged = false;
};

// Newton's method, its steps shortened by a ridge until the likelihood rises.
Maximum maximise(const Marginal& marginal) {
  Maximum m{marginal.start(), {}, 0.0, false};
  VectorXd gradient;
  m.value = marginal.evaluate(m.at, &gradient);
  double ridge = 1.0;
  for (int step = 0; step < 200 && !m.converged; ++step) {
    const MatrixXd curvature = -marginal.hessian(m.at);
    bool improved = false;
    for (int attempt = 0; attempt < 30 && !improved; ++attempt) {
      MatrixXd damped = curvature;
      damped.diagonal().array() += ridge;
      const VectorXd move = damped.ldlt().solve(gradient);
      VectorXd next_gradient;
      const double next = marginal.evaluate(m.at + move, &next_gradient);
      improved = next >= m.value - 1e-10 && std::isfinite(next);
      if (!improved) {
        ridge = ridge * 4.0 + 1e-6;
        continue;
      }
      m.at += move;
      m.value = next;
      gradient = next_gradient;
      ridge /= 10.0;
      m.converged = gradient.lpNorm<Eigen::Infinity>() < 1e-6;
    }
    if (!improved) break;
  }
  m.covariance = (-marginal.hessian(m.at)).inverse();
  return m;
}

CalibratedItem describe(const Marginal& marginal, const Maximum& m, std::size_t j) {
  const double a = marginal.slope(m.at, j), d = marginal.intercept(m.at, j);
  const Eigen::Index di = marginal.intercept_index(j);
  const double var_d = m.covariance(di, di);
  double var_a = 0.0, cov = 0.0;
  if (marginal.num_slopes() > 0) {
    const Eigen::Index ai = marginal.slope_index(j);
    var_a = m.covariance(ai, ai);
    cov = m.covariance(ai, di);
  }
  const double var_b =
      var_d / (a * a) + d * d / std::pow(a, 4) * var_a - 2.0 * d / std::pow(a, 3) * cov;
  return {normal_estimate(a, std::sqrt(var_a)), normal_estimate(d, std::sqrt(var_d)),
          normal_estimate(-d / a, std::sqrt(var_b))};
}

double pattern_log_probability(const std::vector<int>& right, const std::vector<Item>& items) {
  return marginal_log_likelihood({{right, 1.0}}, items);
}

void add_fit(Calibration& fit, const std::vector<AnswerPattern>& patterns,
             std::size_t num_parameters) {
  const std::size_t k = fit.items.size();
  std::vector<Item> items;
  for (const CalibratedItem& item : fit.items) {
    items.push_back(item_from_intercept(item.slope.value, item.intercept.value));
  }
  std::map<std::vector<int>, double> seen;
  double n = 0.0;
  for (const AnswerPattern& p : patterns) {
    seen[p.right] += p.frequency;
    n += p.frequency;
  }
  double expected_seen = 0.0;
  for (const auto& [right, count] : seen) {
    if (count <= 0.0) continue;  // 0 log 0 = 0
    const double expected = n * std::exp(pattern_log_probability(right, items));
    fit.likelihood_ratio += 2.0 * count * std::log(count / expected);
    fit.pearson += (count - expected) * (count - expected) / expected;
    expected_seen += expected;
  }
  fit.pearson += n - expected_seen;  // patterns nobody gave: (0 - e)^2 / e = e
  fit.degrees_of_freedom =
      std::pow(2.0, static_cast<double>(k)) - 1.0 - static_cast<double>(num_parameters);
}

}  // namespace

Status check_patterns(const std::vector<AnswerPattern>& patterns) {
  if (patterns.empty()) return fail(out_of_range("persons", 0.0, "1 or more"));
  const std::size_t k = patterns.front().right.size();
  if (k < 2) return fail(out_of_range("items", static_cast<double>(k), "2 or more"));
  std::vector<double> right(k, 0.0);
  double n = 0.0;
  for (const AnswerPattern& p : patterns) {
    if (p.right.size() != k) {
      return fail(out_of_range("answers of a person", static_cast<double>(p.right.size()),
                               std::to_string(k) + ", one per item"));
    }
    n += p.frequency;
    for (std::size_t j = 0; j < k; ++j) right[j] += p.frequency * p.right[j];
  }
  for (std::size_t j = 0; j < k; ++j) {
    if (right[j] <= 0.0 || right[j] >= n) {
      return fail(out_of_range("number right of item " + std::to_string(j + 1), right[j],
                               "between 1 and all but one; leave the item out"));
    }
  }
  return {};
}

double marginal_log_likelihood(const std::vector<AnswerPattern>& patterns,
                               const std::vector<Item>& items) {
  const Marginal marginal(patterns, SlopeModel::kFree);
  VectorXd x(static_cast<Eigen::Index>(2 * items.size()));
  for (std::size_t j = 0; j < items.size(); ++j) {
    x(marginal.slope_index(j)) = items[j].slope;
    x(marginal.intercept_index(j)) = -items[j].slope * items[j].difficulty;
  }
  return marginal.evaluate(x, nullptr);
}

Result<Calibration> calibrate_marginal(const std::vector<AnswerPattern>& patterns,
                                       SlopeModel model) {
  TRY(check_patterns(patterns));
  const Marginal marginal(patterns, model);
  const Maximum m = maximise(marginal);
  Calibration fit;
  for (std::size_t j = 0; j < patterns.front().right.size(); ++j) {
    fit.items.push_back(describe(marginal, m, j));
  }
  fit.log_likelihood = m.value;
  fit.converged = m.converged;
  add_fit(fit, patterns, static_cast<std::size_t>(m.at.size()));
  return fit;
}

}  // namespace phren::teaching
