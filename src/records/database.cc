#include "records/database.h"

#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>
#include <sodium.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <vector>

#include "records/audit.h"
#include "records/migrations.h"

namespace phren::records {
namespace {

constexpr int kApplicationId = 0x5068726e;  // "Phrn", as SQLite's file header keeps it

void prepare_sqlite(soci::session& sql) {
  std::string mode;
  sql << "PRAGMA journal_mode=WAL", soci::into(mode);
  sql << "PRAGMA synchronous=FULL";
  sql << "PRAGMA busy_timeout=5000";
  sql << "PRAGMA foreign_keys=ON";
}

// Nobody waits for ever: another session's lock is trouble after as long as with SQLite. A host that is
// down is trouble after five seconds too, unless the connection string says otherwise.
void prepare_postgresql(soci::session& sql) {
  sql << "SET lock_timeout = '5s'";
}
std::string with_patience(const std::string& connection) {
  const bool is_said = connection.find("connect_timeout") != std::string::npos;
  return is_said || connection.find("://") != std::string::npos ? connection
                                                                : connection + " connect_timeout=5";
}

// SQLite: a read lock that is raised later can fail at once, so the write lock comes first.
const char* begin_words(Backend backend) {
  return backend == Backend::kSqlite ? "BEGIN IMMEDIATE" : "BEGIN";
}

std::vector<std::string> table_names(soci::session& sql, Backend backend) {
  const char* query =
      backend == Backend::kSqlite
          ? "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
          : "SELECT CAST(table_name AS TEXT) FROM information_schema.tables WHERE table_schema ="
            " current_schema()";
  const soci::rowset<std::string> rows = sql.prepare << query;
  return {rows.begin(), rows.end()};
}

Error no_store() {
  return {ErrorCode::kNotFound,
          "there is no store there: see that --records is spelt right; to make a new store there, "
          "add --create"};
}

Error foreign_store() {
  return {ErrorCode::kUnsupported,
          "this database belongs to another program: Phren needs one of its own, so give another "
          "with --records"};
}

// Whose store it is: ours, another program's (an error), or nobody's yet (false).
Result<bool> is_ours(soci::session& sql, Backend backend) {
  if (backend == Backend::kSqlite) {
    int id = 0;
    sql << "PRAGMA application_id", soci::into(id);
    if (id != 0 && id != kApplicationId) return fail(foreign_store());
  }
  const auto names = table_names(sql, backend);
  const auto has = [&](std::string_view name) {
    return std::find(names.begin(), names.end(), name) != names.end();
  };
  if (names.empty()) return false;
  if (names.size() == 1 && has("schema_version")) return false;  // made, then nothing more
  if (!has("schema_version") || !has("person") || !has("encounter") || !has("audit")) {
    return fail(foreign_store());
  }
  return true;
}

Error older_store(int version) {
  return {
      ErrorCode::kUnsupported,
      "the store has version " + std::to_string(version) + " and this program keeps version " +
          std::to_string(newest_version()) +
          ": stop its server, then `phren records migrate` makes a backup of it and brings it up "
          "to date"};
}

}  // namespace

Database::Database(std::unique_ptr<soci::session> session, Backend backend, TroubleSink on_trouble)
    : session_(std::move(session)), backend_(backend), on_trouble_(std::move(on_trouble)) {}
Database::Database(Database&&) noexcept = default;
Database& Database::operator=(Database&&) noexcept = default;
Database::~Database() = default;

Result<StoreAddress> parse_store(std::string_view connection) {
  const std::size_t colon = connection.find(':');
  const std::string_view kind = connection.substr(0, colon);
  if (colon == std::string_view::npos || (kind != "sqlite" && kind != "postgresql")) {
    // The string may hold a password, so it is not repeated.
    return fail(ErrorCode::kInvalidArgument,
                "the store must be given as sqlite:PATH or postgresql:CONNECTION");
  }
  return StoreAddress{kind == "sqlite" ? Backend::kSqlite : Backend::kPostgresql,
                      std::string(connection.substr(colon + 1))};
}

Result<Database> Database::open(std::string_view connection, const OpenRules& rules) {
  if (sodium_init() < 0) return fail(ErrorCode::kIo, "the system gives no random numbers");
  const auto store = parse_store(connection);
  if (!store) return fail(store.error());
  const bool sqlite = store->backend == Backend::kSqlite;
  std::error_code ignored;
  if (sqlite && !rules.may_create && !std::filesystem::exists(store->rest, ignored)) {
    return fail(no_store());
  }
  try {
    auto session =
        sqlite ? std::make_unique<soci::session>(soci::sqlite3, "dbname=" + store->rest)
               : std::make_unique<soci::session>(soci::postgresql, with_patience(store->rest));
    if (sqlite) *session << "PRAGMA busy_timeout=5000";
    if (!sqlite) prepare_postgresql(*session);
    const auto ours = is_ours(*session, store->backend);
    if (!ours) return fail(ours.error());
    if (!*ours && !rules.may_create) return fail(no_store());
    if (sqlite) prepare_sqlite(*session);
    Database database(std::move(session), store->backend, rules.on_trouble);
    const auto version = *ours ? database.schema_version() : Result<int>(newest_version());
    if (!version) return fail(version.error());
    if (*version < newest_version() && rules.older == Older::kRefuse) {
      return fail(older_store(*version));
    }
    if (*version < newest_version() && rules.older == Older::kLeave) return database;
    if (auto ok = database.bring_up_to_date(); !ok) return fail(ok.error());
    return database;
  } catch (const std::exception& error) {
    const Trouble what = trouble_of(error.what());
    if (rules.on_trouble) rules.on_trouble(what);
    const bool is_damaged = what.kind == TroubleKind::kDamaged;
    return fail(
        ErrorCode::kIo,
        (is_damaged ? "the store is damaged: " : "the store cannot be opened: ") + what.said);
  }
}

Status Database::trouble(std::string_view said) const {
  const Trouble what = trouble_of(said);
  if (on_trouble_) on_trouble_(what);
  return fail(error_of(what.kind));
}

Status Database::bring_up_to_date() {
  if (auto ok = migrate(*this); !ok) return ok;
  has_chain_ = true;
  if (backend_ == Backend::kPostgresql) return {};
  int id = 0;
  *session_ << "PRAGMA application_id", soci::into(id);
  if (id != kApplicationId) {
    *session_ << "PRAGMA application_id=" + std::to_string(kApplicationId);
  }
  return {};
}

Result<int> Database::schema_version() {
  int version = 0;
  TRY(transact([&](soci::session& sql) -> Status {
    sql << "SELECT MAX(version) FROM schema_version", soci::into(version);
    return {};
  }));
  return version;
}

Status Database::verify() {
  std::string where = "its pages";
  try {
    if (backend_ == Backend::kSqlite) {
      std::string said;
      *session_ << "PRAGMA integrity_check(1)", soci::into(said);
      if (said != "ok") {
        return fail(ErrorCode::kIo, "the store is damaged: " + trouble_of(said).said);
      }
    }
    for (const TableShape& table : tables()) {
      where = "table " + table.name;
      std::string columns;
      for (const std::string& column : table.columns) {
        columns += (columns.empty() ? "COUNT(" : ") + COUNT(") + column;
      }
      long long count = 0;
      *session_ << "SELECT " + columns + ") FROM " + table.name, soci::into(count);
    }
    return {};
  } catch (const std::exception& error) {
    return fail(ErrorCode::kIo,
                "the store is damaged: " + where + ": " + trouble_of(error.what()).said);
  }
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
    if (depth == 0 && has_chain_) seal_audit(*session_, backend_);
    *session_ << (depth == 0 ? std::string("COMMIT") : "RELEASE SAVEPOINT " + mark);
    return {};
  } catch (const std::exception& error) {
    undo();
    return trouble(error.what());
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
    return trouble(error.what());
  }
}

Status Database::commit_batch() {
  depth_ = 0;
  try {
    if (has_chain_) seal_audit(*session_, backend_);
    *session_ << "COMMIT";
    return {};
  } catch (const std::exception& error) {
    try {
      *session_ << "ROLLBACK";
    } catch (const std::exception&) {
      // Nothing is open any more.
    }
    return trouble(error.what());
  }
}

long long count_of(const soci::row& row, std::size_t column) {
  switch (row.get_properties(column).get_data_type()) {
    case soci::dt_string:
      return std::atoll(row.get<std::string>(column).c_str());
    case soci::dt_integer:
      return row.get<int>(column);
    case soci::dt_double:
      return static_cast<long long>(row.get<double>(column));
    default:
      return row.get<long long>(column);
  }
}

std::string random_id() {
  std::array<unsigned char, 16> bytes{};
  randombytes_buf(bytes.data(), bytes.size());
  std::array<char, 33> text{};
  sodium_bin2hex(text.data(), text.size(), bytes.data(), bytes.size());
  return text.data();
}

std::string rising_id() {
  static std::atomic<std::uint64_t> next{
      static_cast<std::uint64_t>(std::chrono::duration_cast<std::chrono::microseconds>(
                                     std::chrono::system_clock::now().time_since_epoch())
                                     .count())};
  std::array<char, 17> digits{};
  std::snprintf(digits.data(), digits.size(), "%016llx", static_cast<unsigned long long>(next++));
  return digits.data() + random_id().substr(16);
}

std::string hash_text(std::string_view text) {
  std::array<unsigned char, 32> hash{};
  crypto_generichash(hash.data(), hash.size(), reinterpret_cast<const unsigned char*>(text.data()),
                     text.size(), nullptr, 0);
  std::array<char, 65> digits{};
  sodium_bin2hex(digits.data(), digits.size(), hash.data(), hash.size());
  return digits.data();
}

}  // namespace phren::records
