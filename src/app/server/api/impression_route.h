// Weighing over HTTP: an examination record in, an impression out (reasoning/json.h).
#pragma once

#include <memory>

#include "app/server/api/routes.h"
#include "teaching/library.h"

namespace phren::app::server {

void add_impression_route(RouteTable& table, std::shared_ptr<const teaching::Library> library);

}  // namespace phren::app::server
