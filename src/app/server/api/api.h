// The JSON interface: everything the pages ask for, described in docs/openapi.json.
//
// Errors:  load() names the data file it could not use; answers are problems (http.h).
// Threads: the table's handlers read only what load() made, so they may run side by side.
#pragma once

#include <filesystem>

#include "app/server/api/office.h"
#include "app/server/api/routes.h"

namespace phren::app::server {

Result<RouteTable> load_api(const std::filesystem::path& data, const OfficeOptions& options = {});
Result<RouteTable> load_api(const std::shared_ptr<Office>& office);

}  // namespace phren::app::server
