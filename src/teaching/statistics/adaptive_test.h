// A test that picks each next item where it tells most about this person, and stops when it knows
// enough.
//
// Units:   abilities in logits; se is the posterior sd under a standard normal prior.
// Threads: an instance belongs to one thread.
// Source:  maximum information choice with expected-a-posteriori ability (from memory). Checked
//          against a worked trace in tests/published/teaching_irt_test.cc.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "base/random.h"
#include "base/result.h"
#include "teaching/statistics/item_response.h"

namespace phren::teaching {

struct AdaptiveConfig {
  double target_se = 0.30;       // > 0; stop at or below
  std::size_t min_items = 5;     // never stop before
  std::size_t max_items = 60;    // always stop here
  double min_information = 0.0;  // stop when no item left tells more than this
  std::size_t random_best = 1;   // draw among this many best items, so that items are not worn out
  std::optional<double> cut;     // stop when the 95 % interval is clear of this ability
};

enum class StopReason { kGoOn, kPrecise, kClearOfCut, kMaxItems, kNothingLeftToLearn, kBankEmpty };

class AdaptiveTest {
 public:
  // kInvalidArgument naming the setting or item out of range.
  static Result<AdaptiveTest> make(std::vector<Item> bank, const AdaptiveConfig& config, Seed seed);

  StopReason stop_reason() const;
  // Index in the bank of the next item; empty when the test is over.
  std::optional<std::size_t> next();
  // REQUIRES: item is in the bank and not yet answered.
  void answer(std::size_t item, bool right);

  const Estimate& ability() const {
    if (!ability_) ability_ = ability_eap(responses_);
    return *ability_;
  }
  const Responses& responses() const { return responses_; }

 private:
  AdaptiveTest(std::vector<Item> bank, const AdaptiveConfig& config, Seed seed);
  double best_information_left() const;

  std::vector<Item> bank_;
  std::vector<bool> used_;
  AdaptiveConfig config_;
  RandomStream random_;
  Responses responses_;
  mutable std::optional<Estimate> ability_;  // worked out when asked for
};

}  // namespace phren::teaching
