// The store as a handler has it while it answers one request.
#pragma once

#include <cstdint>
#include <functional>
#include <utility>
#include <vector>

#include "records/database.h"

namespace phren::app::server {

struct Desk {
  records::Database& db;
  std::int64_t now_ms;  // since 1970 UTC
  // Steps for when the work is on disk; null: it has no commit to wait for.
  std::vector<std::function<void()>>* after_commit = nullptr;

  // What others see outside the store must not run ahead of it.
  void once_kept(std::function<void()> step) const {
    if (after_commit == nullptr) return step();
    after_commit->push_back(std::move(step));
  }
};

}  // namespace phren::app::server
