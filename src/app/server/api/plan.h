// A station's plan as the pages send it and the store keeps it.
//
// Errors:  kInvalidArgument or kMalformed naming the field.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "app/server/api/case_json.h"
#include "records/stations.h"
#include "teaching/marking/station_plan.h"

namespace phren::app::server {

using teaching::StationPlan;

// Its cases are there, by the ids that they are compared by everywhere.
Result<StationPlan> parse_plan(const nlohmann::json& body, const teaching::Library& library);
Result<StationPlan> plan_of(const records::Station& station);

}  // namespace phren::app::server
