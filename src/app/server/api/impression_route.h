// Weighing over HTTP: an examination record in, an impression out (reasoning/json.h).
#pragma once

#include <filesystem>

#include "app/server/api/routes.h"

namespace phren::app::server {

Status add_impression_route(RouteTable& table, const std::filesystem::path& data);

}  // namespace phren::app::server
