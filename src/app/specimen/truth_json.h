// The truth of a specimen as JSON, for pages, drill and command line.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "app/specimen/specimen.h"

namespace phren::app {

// [{sound, phase, start_s, end_s, pitch_hz, audible}]; pitch 0 where there is none.
nlohmann::ordered_json truth_json(const SpecimenSound& made);

}  // namespace phren::app
