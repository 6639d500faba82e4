// An impression as JSON, for pages, reports and scripts. Keys follow types.h.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "reasoning/types.h"

namespace phren::reasoning {

inline constexpr int kImpressionSchemaVersion = 1;

nlohmann::ordered_json to_json(const Impression& impression);
std::string to_json_text(const Impression& impression);  // indented, with a line end

}  // namespace phren::reasoning
