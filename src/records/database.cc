#include "records/database.h"

#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>
#include <sodium.h>

#include <array>

#include "records/migrations.h"

namespace phren::records {
namespace {

Status prepare_sqlite(soci::session& sql) {
  std::string mode;
  sql << "PRAGMA journal_mode=WAL", soci::into(mode);
  sql << "PRAGMA synchronous=FULL";
  sql << "PRAGMA busy_timeout=5000";
  sql << "PRAGMA foreign_keys=ON";
  return {};
}

// SQLite: a read lock that is raised later can fail at once, so the write lock comes first.
const char* begin_words(Backend backend) {
  return backend == Backend::kSqlite ? "BEGIN IMMEDIATE" : "BEGIN";
}

}  // namespace

Database::Database(std::unique_ptr<soci::session> session, Backend backend)
    : session_(std::move(session)), backend_(backend) {}
Database::Database(Database&&) noexcept = default;
Database& Database::operator=(Database&&) noexcept = default;
Database::~Database() = default;

Result<Database> Database::open(std::string_view connection) {
  if (sodium_init() < 0) return fail(ErrorCode::kIo, "the system gives no random numbers");
  const std::size_t colon = connection.find(':');
  const std::string_view kind = connection.substr(0, colon);
  const bool sqlite = kind == "sqlite";
  if (colon == std::string_view::npos || (!sqlite && kind != "postgresql")) {
    // The string may hold a password, so it is not repeated.
    return fail(ErrorCode::kInvalidArgument,
                "the store must be given as sqlite:PATH or postgresql:CONNECTION");
  }
  const std::string rest(connection.substr(colon + 1));
  try {
    auto session = sqlite ? std::make_unique<soci::session>(soci::sqlite3, "dbname=" + rest)
                          : std::make_unique<soci::session>(soci::postgresql, rest);
    if (sqlite) prepare_sqlite(*session);
    Database database(std::move(session), sqlite ? Backend::kSqlite : Backend::kPostgresql);
    TRY(migrate(database));
    return database;
  } catch (const std::exception& error) {
    return fail(ErrorCode::kIo, std::string("the store cannot be opened: ") + error.what());
  }
}

Result<int> Database::schema_version() {
  int version = 0;
  TRY(transact([&](soci::session& sql) -> Status {
    sql << "SELECT MAX(version) FROM schema_version", soci::into(version);
    return {};
  }));
  return version;
}

Status Database::transact(const std::function<Status(soci::session&)>& work) {
  const int depth = depth_;
  const std::string mark = "part" + std::to_string(depth);
  const auto undo = [&] {
    depth_ = depth;
    try {
      if (depth == 0) {
        *session_ << "ROLLBACK";
      } else {
        *session_ << "ROLLBACK TO SAVEPOINT " + mark;
        *session_ << "RELEASE SAVEPOINT " + mark;
      }
    } catch (const std::exception&) {
      // The connection is gone; the store has already forgotten the transaction.
    }
  };
  try {
    *session_ << (depth == 0 ? std::string(begin_words(backend_)) : "SAVEPOINT " + mark);
    depth_ = depth + 1;
    auto status = work(*session_);
    depth_ = depth;
    if (!status) {
      undo();
      return status;
    }
    *session_ << (depth == 0 ? std::string("COMMIT") : "RELEASE SAVEPOINT " + mark);
    return {};
  } catch (const std::exception& error) {
    undo();
    return fail(ErrorCode::kIo, std::string("the store refused: ") + error.what());
  } catch (...) {
    undo();
    throw;
  }
}

Status Database::begin_batch() {
  try {
    *session_ << begin_words(backend_);
    depth_ = 1;
    return {};
  } catch (const std::exception& error) {
    return fail(ErrorCode::kIo, std::string("the store refused: ") + error.what());
  }
}

Status Database::commit_batch() {
  depth_ = 0;
  try {
    *session_ << "COMMIT";
    return {};
  } catch (const std::exception& error) {
    try {
      *session_ << "ROLLBACK";
    } catch (const std::exception&) {
      // Nothing is open any more.
    }
    return fail(ErrorCode::kIo, std::string("the store refused: ") + error.what());
  }
}

std::string random_id() {
  std::array<unsigned char, 16> bytes{};
  randombytes_buf(bytes.data(), bytes.size());
  std::array<char, 33> text{};
  sodium_bin2hex(text.data(), text.size(), bytes.data(), bytes.size());
  return text.data();
}

}  // namespace phren::records
