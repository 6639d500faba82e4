// A checklist as JSON text and back, for the pages where examiners edit it.
//
// Shapes:  the fields of docs/formats/checklist.md; the list of items is "items", and "id" names
// the
//          checklist.
// Errors:  those of parse_checklist; the line in them counts the fields as written, one a line.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "teaching/marking/checklist.h"

namespace phren::teaching {

std::string to_json_text(const Checklist& checklist);
Result<Checklist> checklist_from_json(std::string_view text);

}  // namespace phren::teaching
