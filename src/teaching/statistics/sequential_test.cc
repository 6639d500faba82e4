#include "teaching/statistics/sequential_test.h"

#include <cmath>

namespace phren::teaching {
namespace {

constexpr double kRounding = 1e-12;  // a bound reached exactly counts as reached

}  // namespace

SequentialTest::SequentialTest(const SequentialConfig& config)
    : config_(config),
      right_step_(std::log(config.mastered_share / config.not_mastered_share)),
      wrong_step_(std::log((1.0 - config.mastered_share) / (1.0 - config.not_mastered_share))),
      pass_(std::log((1.0 - config.false_fail_prob) / config.false_pass_prob)),
      fail_(std::log(config.false_fail_prob / (1.0 - config.false_pass_prob))) {}

Result<SequentialTest> SequentialTest::make(const SequentialConfig& config) {
  if (!(config.not_mastered_share > 0.0 && config.not_mastered_share < 1.0)) {
    return fail(out_of_range("not_mastered_share", config.not_mastered_share, "between 0 and 1"));
  }
  if (!(config.mastered_share > config.not_mastered_share && config.mastered_share < 1.0)) {
    return fail(out_of_range("mastered_share", config.mastered_share,
                             "above not_mastered_share and below 1"));
  }
  if (!(config.false_pass_prob > 0.0 && config.false_pass_prob < 0.5)) {
    return fail(out_of_range("false_pass_prob", config.false_pass_prob, "between 0 and 0.5"));
  }
  if (!(config.false_fail_prob > 0.0 && config.false_fail_prob < 0.5)) {
    return fail(out_of_range("false_fail_prob", config.false_fail_prob, "between 0 and 0.5"));
  }
  if (config.max_items < 1) return fail(out_of_range("max_items", 0.0, "1 or more"));
  return SequentialTest(config);
}

void SequentialTest::record(bool right) {
  if (decision() != Mastery::kUndecided) return;  // the first decision stands
  evidence_ += right ? right_step_ : wrong_step_;
  ++num_items_;
}

Mastery SequentialTest::bound_crossed() const {
  if (evidence_ >= pass_ - kRounding) return Mastery::kMastered;
  if (evidence_ <= fail_ + kRounding) return Mastery::kNotMastered;
  return Mastery::kUndecided;
}

Mastery SequentialTest::decision() const {
  const Mastery crossed = bound_crossed();
  if (crossed != Mastery::kUndecided || num_items_ < config_.max_items) return crossed;
  return evidence_ > 0.0 ? Mastery::kMastered : Mastery::kNotMastered;
}

bool SequentialTest::was_truncated() const {
  return num_items_ >= config_.max_items && bound_crossed() == Mastery::kUndecided;
}

double SequentialTest::pass_probability(double p) const {
  // The exponent h with E[exp(h step)] = 1; Wald's approximation follows from the bounds.
  const auto excess = [&](double h) {
    return p * std::exp(h * right_step_) + (1.0 - p) * std::exp(h * wrong_step_) - 1.0;
  };
  const double drift = p * right_step_ + (1.0 - p) * wrong_step_;
  if (std::abs(drift) < 1e-9) return -fail_ / (pass_ - fail_);
  double near = drift > 0.0 ? -1e-9 : 1e-9, far = near;
  do far *= 2.0;
  while (excess(far) < 0.0 && std::abs(far) < 1e3);
  for (int i = 0; i < 200; ++i) {
    const double middle = (near + far) / 2.0;
    (excess(middle) < 0.0 ? near : far) = middle;
  }
  const double at_pass = std::exp(far * pass_), at_fail = std::exp(far * fail_);
  return (1.0 - at_fail) / (at_pass - at_fail);
}

double SequentialTest::expected_items(double p) const {
  const double drift = p * right_step_ + (1.0 - p) * wrong_step_;
  if (std::abs(drift) < 1e-6) {
    return -pass_ * fail_ / (p * right_step_ * right_step_ + (1.0 - p) * wrong_step_ * wrong_step_);
  }
  const double pass = pass_probability(p);
  return (pass * pass_ + (1.0 - pass) * fail_) / drift;
}

std::vector<double> trace_knowledge(const TracingConfig& config, const std::vector<bool>& right) {
  std::vector<double> trace;
  double known = config.known_at_start;
  for (const bool answer : right) {
    const double if_known = answer ? 1.0 - config.slip : config.slip;
    const double if_not = answer ? config.guess : 1.0 - config.guess;
    known = known * if_known / (known * if_known + (1.0 - known) * if_not);
    known += (1.0 - known) * config.learn;
    trace.push_back(known);
  }
  return trace;
}

}  // namespace phren::teaching
