// A station's plan as the pages send it and the store keeps it.
//
// Shapes:  StationPlan of docs/formats/class-api.md.
// Errors:  kInvalidArgument or kMalformed naming the field.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/server/api/case_shelf.h"
#include "base/result.h"
#include "records/stations.h"
#include "teaching/marking/checklist.h"

namespace phren::app::server {

struct StationPlan {
  std::string title;
  std::vector<std::string> case_ids;
  teaching::Checklist checklist;
  double time_limit_s = 0.0;           // 0: none
  std::string patients = "identical";  // or "parallel"
  std::string admission = "roster";    // or "open"
  std::string instructions;
  bool shows_words = false;  // in words which sounds can be heard, for those who cannot hear them
};

Result<StationPlan> parse_plan(const nlohmann::json& body, const CaseShelf& shelf);
Result<StationPlan> plan_of(const records::Station& station);
// The plan as JSON text; the checklist within it, its time limit and the plan's are the same.
std::string plan_text(const StationPlan& plan);

}  // namespace phren::app::server
