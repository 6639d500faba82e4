#include "teaching/statistics/rasch.h"

#include <Eigen/Dense>
#include <cmath>

namespace phren::teaching {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// Elementary symmetric functions of e^-difficulty; `skip` items are left out.
std::vector<double> symmetric_functions(const VectorXd& easiness, Eigen::Index skip_a = -1,
                                        Eigen::Index skip_b = -1) {
  std::vector<double> gamma(static_cast<std::size_t>(easiness.size()) + 1, 0.0);
  gamma[0] = 1.0;
  std::size_t order = 0;
  for (Eigen::Index j = 0; j < easiness.size(); ++j) {
    if (j == skip_a || j == skip_b) continue;
    ++order;
    for (std::size_t r = order; r >= 1; --r) gamma[r] += easiness(j) * gamma[r - 1];
  }
  return gamma;
}

struct ScoreCounts {
  std::vector<double> by_score;  // persons with each total
  VectorXd right;                // right answers per item, scores 1..k-1 only
};

ScoreCounts count_scores(const std::vector<AnswerPattern>& patterns) {
  const std::size_t k = patterns.front().right.size();
  ScoreCounts c{std::vector<double>(k + 1, 0.0), VectorXd::Zero(static_cast<Eigen::Index>(k))};
  for (const AnswerPattern& p : patterns) {
    std::size_t score = 0;
    for (const int answer : p.right) score += answer != 0 ? 1u : 0u;
    c.by_score[score] += p.frequency;
    if (score == 0 || score == k) continue;
    for (std::size_t j = 0; j < k; ++j) {
      c.right(static_cast<Eigen::Index>(j)) += p.frequency * p.right[j];
    }
  }
  return c;
}

// Gradient and curvature of the conditional likelihood to the difficulties.
void conditional_derivatives(const ScoreCounts& c, const VectorXd& difficulty, VectorXd& gradient,
                             MatrixXd& curvature, double& log_likelihood) {
  const Eigen::Index k = difficulty.size();
  const VectorXd easiness = (-difficulty).array().exp();
  const auto gamma = symmetric_functions(easiness);
  gradient = -c.right;
  curvature = MatrixXd::Zero(k, k);
  log_likelihood = -c.right.dot(difficulty);
  for (Eigen::Index r = 1; r < k; ++r) {
    const double persons = c.by_score[static_cast<std::size_t>(r)];
    log_likelihood -= persons * std::log(gamma[static_cast<std::size_t>(r)]);
  }
  MatrixXd single(k, k);  // single(j, r): P(item j right | score r)
  for (Eigen::Index j = 0; j < k; ++j) {
    const auto without = symmetric_functions(easiness, j);
    for (Eigen::Index r = 1; r < k; ++r) {
      const auto s = static_cast<std::size_t>(r);
      single(j, r) = easiness(j) * without[s - 1] / gamma[s];
      gradient(j) += c.by_score[s] * single(j, r);
      curvature(j, j) += c.by_score[s] * single(j, r) * (1.0 - single(j, r));
    }
  }
  for (Eigen::Index i = 0; i < k; ++i) {
    for (Eigen::Index j = i + 1; j < k; ++j) {
      const auto without = symmetric_functions(easiness, i, j);
      for (Eigen::Index r = 1; r < k; ++r) {
        const auto s = static_cast<std::size_t>(r);
        const double both = s < 2 ? 0.0 : easiness(i) * easiness(j) * without[s - 2] / gamma[s];
        curvature(i, j) += c.by_score[s] * (both - single(i, r) * single(j, r));
      }
      curvature(j, i) = curvature(i, j);
    }
  }
}

std::vector<Estimate> abilities(const VectorXd& difficulty) {
  std::vector<Estimate> result;
  for (Eigen::Index score = 1; score < difficulty.size(); ++score) {
    Responses responses;
    for (Eigen::Index j = 0; j < difficulty.size(); ++j) {
      // In the Rasch model only the number right counts, so any pattern of that score will do.
      responses.push_back({{1.0, difficulty(j)}, j < score});
    }
    result.push_back(ability_mle(responses).value_or(Estimate{}));
  }
  return result;
}

}  // namespace

Result<RaschCalibration> calibrate_rasch(const std::vector<AnswerPattern>& patterns) {
  TRY(check_patterns(patterns));
  const ScoreCounts counts = count_scores(patterns);
  const Eigen::Index k = counts.right.size();
  VectorXd difficulty = VectorXd::Zero(k), gradient;
  MatrixXd curvature;
  double log_likelihood = 0.0;
  for (int step = 0; step < 100; ++step) {
    conditional_derivatives(counts, difficulty, gradient, curvature, log_likelihood);
    if (gradient.lpNorm<Eigen::Infinity>() < 1e-9) break;
    // The likelihood is flat along "all items harder"; adding that direction keeps the sum at zero.
    const MatrixXd fixed = curvature + MatrixXd::Ones(k, k);
    VectorXd move = fixed.ldlt().solve(gradient);
    const double largest = move.lpNorm<Eigen::Infinity>();
    if (largest > 1.0) move /= largest;
    difficulty += move;
    difficulty.array() -= difficulty.mean();
  }
  if (!difficulty.allFinite() || gradient.lpNorm<Eigen::Infinity>() > 1e-4) {
    return fail(ErrorCode::kInvalidArgument,
                "the answers do not fix the difficulties: some item is always right whenever "
                "another is wrong; gather more answers or leave an item out");
  }
  const MatrixXd centred =
      MatrixXd::Identity(k, k) - MatrixXd::Constant(k, k, 1.0 / static_cast<double>(k));
  const MatrixXd covariance = centred * (curvature + MatrixXd::Ones(k, k)).inverse() * centred;
  RaschCalibration result;
  for (Eigen::Index j = 0; j < k; ++j) {
    result.difficulty.push_back(normal_estimate(difficulty(j), std::sqrt(covariance(j, j))));
  }
  result.ability_by_score = abilities(difficulty);
  result.log_likelihood = log_likelihood;
  return result;
}

}  // namespace phren::teaching
