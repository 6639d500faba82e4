// Specimens over HTTP: short synthetic sounds, made on request, each with its exact truth.
#pragma once

#include <filesystem>

#include "app/server/api/routes.h"

namespace phren::app::server {

Status add_specimen_routes(RouteTable& table, const std::filesystem::path& data);

}  // namespace phren::app::server
