// What of a case may be told to whom.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "app/server/net/http.h"
#include "teaching/library.h"

namespace phren::app::server {

nlohmann::json summary_json(const teaching::Case& prepared);
// What the crew sees and is told; never what is wrong with the patient.
nlohmann::json patient_json(const teaching::Case& prepared);
// What is wrong, and what the case teaches.
nlohmann::json truth_json(const teaching::Case& prepared, const teaching::Library& library);
// The packed numbers of patient/config.h, as 64-bit floats, least significant byte first.
Response config_response(const teaching::Case& prepared, const teaching::Library& library);

}  // namespace phren::app::server
