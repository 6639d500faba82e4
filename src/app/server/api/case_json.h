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
// The packet of bedside/setup.h.
Response config_response(const teaching::Case& prepared, const teaching::Library& library);
// The same under a key of its own, for whoever is being examined.
Response keyed_config_response(const teaching::Case& prepared, const teaching::Library& library);

}  // namespace phren::app::server
