// A store belongs to one server at a time: whoever serves, restores or migrates holds its lock.
//
// Errors:  kIo says who holds it; kIo when the lock cannot be made.
// Safety:  the lock ends with the process that holds it, however that ends. SQLite: flock() on a file
//          beside the store (which a network file system must support); PostgreSQL: an advisory lock
//          of a connection of its own.
// Threads: one.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "base/result.h"

namespace phren::records {

class StoreLock {
 public:
  static Result<StoreLock> take(std::string_view connection);
  // Who holds it, in words; empty when it is free. Takes nothing.
  static Result<std::string> holder(std::string_view connection);
  StoreLock(StoreLock&&) noexcept;
  StoreLock& operator=(StoreLock&&) noexcept;
  ~StoreLock();

  // A PostgreSQL server that was started anew has forgotten the lock; this takes it again.
  Status keep();

 private:
  struct Held;
  explicit StoreLock(std::unique_ptr<Held> held);
  std::unique_ptr<Held> held_;
};

}  // namespace phren::records
