// Measuring a recording over HTTP: the bytes of a sound file in, one measurement out
// (docs/formats/measurement.md). Nothing of the recording is kept.
#pragma once

#include <filesystem>

#include "app/server/api/routes.h"

namespace phren::app::server {

// The models are loaded with the first recording, so that a server without one starts at once.
Status add_measurement_route(RouteTable& table, const std::filesystem::path& data);

}  // namespace phren::app::server
