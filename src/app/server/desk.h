// The store as a handler has it while it answers one request.
#pragma once

#include <cstdint>

#include "records/database.h"

namespace phren::app::server {

struct Desk {
  records::Database& db;
  std::int64_t now_ms;  // since 1970 UTC
};

}  // namespace phren::app::server
