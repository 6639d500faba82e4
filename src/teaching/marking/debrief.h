// What happened in a replayed encounter, as JSON for the debrief's timeline: where the learner
// listened and what could be heard there, what was done, what the monitor showed.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "bedside/performance.h"

namespace phren::teaching {

nlohmann::json debrief_json(const bedside::Performance& performance);

}  // namespace phren::teaching
