// What an ability test has shown so far, worked out from its answers.
#pragma once

#include <nlohmann/json.hpp>

#include "records/ability_tests.h"
#include "teaching/drill/ability_bank.h"

namespace phren::app::server {

Result<teaching::LivedTest> live_again(const records::AbilityTestRecord& record);

// One line of a learner's page; ability and share are null while the test is under way.
Result<nlohmann::json> ability_row(const records::AbilityTestRecord& record);

}  // namespace phren::app::server
