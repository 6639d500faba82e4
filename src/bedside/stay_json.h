// Where the chestpiece lay and what could be heard there, as JSON: the same for replay and debrief.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "bedside/performance.h"

namespace phren::bedside {

// {site_id, aspect, u, v, start_s, end_s, head, through_clothing, heard: [{sound, phase, events,
// seconds, loudest_db}], found: as heard_json}
// {site_id, seconds, loudness, breath, prolonged, words, short, added: [{sound, noticed, words, in, out}],
// below_health_db, below_mirror_db}; the last two only where they are known.
nlohmann::ordered_json heard_json(const HeardAt& heard);
nlohmann::ordered_json stay_json(const Stay& stay);

}  // namespace phren::bedside
