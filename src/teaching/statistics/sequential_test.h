// Mastered or not? Wald's sequential test: as few items as the wanted error rates allow.
//
// Errors:  make() names the setting that is out of range; record() cannot fail.
// Source:  Wald 1947, sequential probability ratio test, its operating characteristic and expected
//          length (from memory); knowledge tracing Corbett & Anderson 1995 (from memory). Worked
//          values in tests/published/teaching_test.cc.
// Limits:  all items count as equally hard; use AdaptiveTest when they differ.
#pragma once

#include <cstddef>
#include <vector>

#include "base/result.h"

namespace phren::teaching {

struct SequentialConfig {
  double not_mastered_share = 0.60;  // p0 in (0, 1): share right of one who has not mastered
  double mastered_share = 0.85;      // p1 in (p0, 1)
  double false_pass_prob = 0.05;     // alpha
  double false_fail_prob = 0.05;     // beta
  std::size_t max_items = 60;        // then the sign of the evidence decides
};

enum class Mastery { kUndecided, kMastered, kNotMastered };

class SequentialTest {
 public:
  static Result<SequentialTest> make(const SequentialConfig& config);

  void record(bool right);
  Mastery decision() const;
  bool was_truncated() const;  // decided by the item limit, so the error rates are not promised
  double evidence() const { return evidence_; }  // log likelihood ratio, nats
  double pass_bound() const { return pass_; }
  double fail_bound() const { return fail_; }
  std::size_t num_items() const { return num_items_; }

  // For someone whose true share right is p: chance of passing and mean number of items.
  double pass_probability(double true_share) const;
  double expected_items(double true_share) const;

 private:
  explicit SequentialTest(const SequentialConfig& config);
  Mastery bound_crossed() const;

  SequentialConfig config_;
  double right_step_, wrong_step_, pass_, fail_;
  double evidence_ = 0.0;
  std::size_t num_items_ = 0;
};

struct TracingConfig {
  double known_at_start = 0.3;
  double learn = 0.2;  // chance of learning at each attempt
  double slip = 0.1;   // wrong though known
  double guess = 0.2;  // right though not known
};
// Probability of knowing the skill after each answer.
std::vector<double> trace_knowledge(const TracingConfig& config, const std::vector<bool>& right);

}  // namespace phren::teaching
