// Where the chestpiece lay and what could be heard there, as JSON: the same for replay and debrief.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "bedside/performance.h"

namespace phren::bedside {

// {site_id, aspect, u, v, start_s, end_s, head, through_clothing, heard: [{sound, phase, events,
// seconds, loudest_db}]}
nlohmann::ordered_json stay_json(const Stay& stay);

}  // namespace phren::bedside
