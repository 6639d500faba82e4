// A mark sheet as JSON and back: what the command line prints, the server answers and its cache
// holds.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "base/result.h"
#include "teaching/marking/mark.h"

namespace phren::teaching {

nlohmann::ordered_json mark_json(const ItemMark& item);
nlohmann::ordered_json mark_json(const MarkSheet& sheet);
// kMalformed when it is not what mark_json made.
Result<MarkSheet> mark_sheet_from_json(const nlohmann::ordered_json& body);

}  // namespace phren::teaching
