// A mark sheet as JSON and back: what the cache of replayed encounters holds.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "base/result.h"
#include "teaching/marking/mark.h"

namespace phren::app::server {

nlohmann::json sheet_json(const teaching::MarkSheet& sheet);
// kMalformed when it is not what sheet_json made.
Result<teaching::MarkSheet> sheet_from_json(const nlohmann::json& json);

}  // namespace phren::app::server
