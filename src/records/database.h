// One store behind one interface: an SQLite file or a PostgreSQL database, by connection string.
//
// Shapes:  "sqlite:PATH" or "postgresql:host=... dbname=..." (what libpq reads after the colon).
// Units:   times in the store are milliseconds since 1970 UTC, given by the caller (no clock here).
// Errors:  open() says what is wrong with the string or the store; later failures come back as kIo.
// Threads: a Database belongs to one thread; open one per thread.
// Safety:  a write is acknowledged only after its transaction is committed to disk (SQLite: WAL,
//          synchronous=FULL, write lock taken at once). Between begin_batch() and commit_batch()
//          the writes of many callers share one commit, and none of them is acknowledged before it.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "base/result.h"

namespace soci {
class session;
}

namespace phren::records {

enum class Backend { kSqlite, kPostgresql };

class Database {
 public:
  // Opens (SQLite: creates) the store and brings its tables to the newest version.
  static Result<Database> open(std::string_view connection);
  Database(Database&&) noexcept;
  Database& operator=(Database&&) noexcept;
  ~Database();

  Backend backend() const { return backend_; }
  Result<int> schema_version();
  // Runs `work` in one transaction: all of it is kept, or, on an error or exception, nothing.
  // Inside a batch or another transact() it is a part that can fail alone.
  Status transact(const std::function<Status(soci::session&)>& work);
  Status begin_batch();
  Status commit_batch();
  soci::session& session() { return *session_; }

 private:
  Database(std::unique_ptr<soci::session> session, Backend backend);
  std::unique_ptr<soci::session> session_;
  Backend backend_;
  int depth_ = 0;  // open transactions, one inside the other
};

// 128 random bits as 32 hexadecimal digits.
std::string random_id();

}  // namespace phren::records
