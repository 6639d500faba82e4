// Cases over HTTP: the list, one case, and its patient as the numbers the browser engine takes.
#pragma once

#include <filesystem>

#include "app/server/routes.h"

namespace phren::app::server {

Status add_case_routes(RouteTable& table, const std::filesystem::path& data);

}  // namespace phren::app::server
