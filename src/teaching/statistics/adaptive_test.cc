#include "teaching/statistics/adaptive_test.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <string>
#include <utility>

namespace phren::teaching {

AdaptiveTest::AdaptiveTest(std::vector<Item> bank, const AdaptiveConfig& config, Seed seed)
    : bank_(std::move(bank)),
      used_(bank_.size(), false),
      config_(config),
      random_(seed, "adaptive_test") {}

Result<AdaptiveTest> AdaptiveTest::make(std::vector<Item> bank, const AdaptiveConfig& config,
                                        Seed seed) {
  if (bank.empty()) return fail(out_of_range("items in the bank", 0.0, "1 or more"));
  for (std::size_t i = 0; i < bank.size(); ++i) {
    const std::string item = "item " + std::to_string(i + 1);
    if (!(bank[i].slope > 0.0 && std::isfinite(bank[i].slope))) {
      return fail(out_of_range("slope of " + item, bank[i].slope, "above 0"));
    }
    if (!std::isfinite(bank[i].difficulty)) {
      return fail(out_of_range("difficulty of " + item, bank[i].difficulty, "a number of logits"));
    }
    if (!(bank[i].guess >= 0.0 && bank[i].guess < 1.0)) {
      return fail(out_of_range("guess of " + item, bank[i].guess, "at least 0 and below 1"));
    }
  }
  if (!(config.target_se > 0.0)) {
    return fail(out_of_range("target_se", config.target_se, "above 0"));
  }
  if (config.random_best < 1) return fail(out_of_range("random_best", 0.0, "1 or more"));
  if (config.max_items < 1) return fail(out_of_range("max_items", 0.0, "1 or more"));
  return AdaptiveTest(std::move(bank), config, seed);
}

double AdaptiveTest::best_information_left() const {
  double best = -1.0;
  for (std::size_t i = 0; i < bank_.size(); ++i) {
    if (!used_[i]) best = std::max(best, information(bank_[i], ability().value));
  }
  return best;
}

StopReason AdaptiveTest::stop_reason() const {
  const std::size_t asked = responses_.size();
  if (asked >= bank_.size()) return StopReason::kBankEmpty;
  if (asked >= config_.max_items) return StopReason::kMaxItems;
  if (best_information_left() <= config_.min_information) return StopReason::kNothingLeftToLearn;
  if (asked < config_.min_items) return StopReason::kGoOn;
  if (ability().se <= config_.target_se) return StopReason::kPrecise;
  if (config_.cut && (ability().low > *config_.cut || ability().high < *config_.cut)) {
    return StopReason::kClearOfCut;
  }
  return StopReason::kGoOn;
}

std::optional<std::size_t> AdaptiveTest::next() {
  if (stop_reason() != StopReason::kGoOn) return std::nullopt;
  std::vector<std::pair<double, std::size_t>> left;  // minus information first, so best sorts first
  for (std::size_t i = 0; i < bank_.size(); ++i) {
    if (!used_[i]) left.emplace_back(-information(bank_[i], ability().value), i);
  }
  std::sort(left.begin(), left.end());
  const auto choices = static_cast<std::uint32_t>(std::min(config_.random_best, left.size()));
  return left[choices > 1 ? random_.below(choices) : 0u].second;
}

void AdaptiveTest::answer(std::size_t item, bool right) {
  assert(item < bank_.size() && !used_[item]);
  used_[item] = true;
  responses_.push_back({bank_[item], right});
  ability_.reset();
}

}  // namespace phren::teaching
