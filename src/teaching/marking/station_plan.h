// A station's plan: which patients, which checklist, how long, and what candidates are told.
//
// Shapes:  StationPlan of docs/formats/class-api.md; the store keeps the same JSON.
// Errors:  as base/json_fields.h.
#pragma once

#include <string>
#include <vector>

#include "teaching/marking/checklist.h"

namespace phren::teaching {

struct StationPlan {
  std::string title;
  std::vector<std::string> case_ids;
  Checklist checklist;
  double time_limit_s = 0.0;           // 0: none; always that of the checklist
  std::string patients = "identical";  // or "parallel"
  std::string admission = "roster";    // or "open"
  std::string instructions;
  bool shows_words = false;  // in words which sounds can be heard, for those who cannot hear them

  bool operator==(const StationPlan&) const = default;
};

void describe(Fields& f, StationPlan& plan);

}  // namespace phren::teaching
