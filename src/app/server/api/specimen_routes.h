// Specimens over HTTP: short synthetic sounds, made on request, each with its exact truth.
#pragma once

#include "app/server/api/guard.h"

namespace phren::app::server {

void add_specimen_routes(RouteTable& table, const OfficePtr& office);

}  // namespace phren::app::server
