// One store behind one interface: an SQLite file or a PostgreSQL database, by connection string.
//
// Shapes:  "sqlite:PATH" or "postgresql:host=... dbname=..." (what libpq reads after the colon).
// Units:   times in the store are milliseconds since 1970 UTC, given by the caller (no clock here).
// Errors:  open() says what is wrong with the string or the store: kNotFound (there is none),
//          kUnsupported (another program's, a newer or an older one), kIo; later failures come back
//          as kIo in words for a client, and go to the rules' sink as the store said them.
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
#include "records/trouble.h"

namespace soci {
class row;
class session;
}  // namespace soci

namespace phren::records {

enum class Backend { kSqlite, kPostgresql };

enum class Older { kMigrate, kRefuse, kLeave };  // what to do with a store of an older version
struct OpenRules {
  bool may_create = true;  // false: kNotFound where there is no store
  Older older = Older::kMigrate;
  TroubleSink on_trouble = {};
};

// Which store a connection string means, without its secrets. kInvalidArgument when it is none.
struct StoreAddress {
  Backend backend = Backend::kSqlite;
  std::string rest;  // a path, or what libpq takes
};
Result<StoreAddress> parse_store(std::string_view connection);

class Database {
 public:
  static Result<Database> open(std::string_view connection, const OpenRules& rules = {});
  Database(Database&&) noexcept;
  Database& operator=(Database&&) noexcept;
  ~Database();

  Backend backend() const { return backend_; }
  Result<int> schema_version();
  // Brings an older store (Older::kLeave) to today's tables. The caller has made a backup.
  Status bring_up_to_date();
  // Reads every page and every table: kIo names what cannot be read.
  Status verify();
  // Runs `work` in one transaction: all of it is kept, or, on an error or exception, nothing.
  // Inside a batch or another transact() it is a part that can fail alone.
  Status transact(const std::function<Status(soci::session&)>& work);
  Status begin_batch();
  Status commit_batch();
  soci::session& session() { return *session_; }

 private:
  Database(std::unique_ptr<soci::session> session, Backend backend, TroubleSink on_trouble);
  Status trouble(std::string_view said) const;
  std::unique_ptr<soci::session> session_;
  Backend backend_;
  TroubleSink on_trouble_;
  int depth_ = 0;           // open transactions, one inside the other
  bool has_chain_ = false;  // of the audit log; not while older tables are brought up to date
};

// A counted number; SQLite does not say of which type a computed column is.
long long count_of(const soci::row& row, std::size_t column);
// 128 random bits as 32 hexadecimal digits.
std::string random_id();
// 32 hexadecimal digits, half of them random, in the order in which this process has made them.
std::string rising_id();
// What is kept of a seed: a number that is whole in JavaScript too.
inline constexpr std::uint64_t kSeedMask = (1ULL << 48) - 1;
// BLAKE2b of 256 bits as hexadecimal digits.
std::string hash_text(std::string_view text);

}  // namespace phren::records
