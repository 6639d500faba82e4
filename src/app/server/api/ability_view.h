// What an ability test has shown so far, worked out from its answers.
#pragma once

#include <nlohmann/json.hpp>

#include "app/server/api/ability_bank.h"
#include "teaching/statistics/adaptive_test.h"

namespace phren::app::server {

inline constexpr double kTargetSe = 0.30;
inline constexpr std::size_t kMostItems = 80;

struct LivedTest {
  AbilityBank bank;
  teaching::AdaptiveTest test;  // all answers given so far
  std::size_t right = 0;
};
Result<LivedTest> live_again(const records::AbilityTestRecord& record);

// Share right of questions drawn evenly from the bank, at the ends of the ability's interval too.
teaching::Estimate expected_share(const AbilityBank& bank, const teaching::Estimate& ability);

// One line of a learner's page; ability and share are null while the test is under way.
Result<nlohmann::json> ability_row(const records::AbilityTestRecord& record);

}  // namespace phren::app::server
