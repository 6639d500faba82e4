#include "records/store_care.h"

#include <soci/soci.h>

#include <algorithm>

#include "base/durable_file.h"
#include "records/dump.h"
#include "records/migrations.h"

namespace phren::records {

Status back_up_to(Database& database, const std::filesystem::path& file) {
  const auto text = dump_all(database);
  if (!text) return fail(text.error());
  return write_file_durably(file, *text);
}

Result<std::optional<std::filesystem::path>> bring_up_to_date(std::string_view connection,
                                                              const std::filesystem::path& folder) {
  OpenRules rules;
  rules.may_create = false;
  rules.older = Older::kLeave;
  auto database = Database::open(connection, rules);
  if (!database) return fail(database.error());
  const auto version = database->schema_version();
  if (!version) return fail(version.error());
  if (*version == newest_version()) return std::optional<std::filesystem::path>();
  const std::string name = "backup-of-version-" + std::to_string(*version);
  std::filesystem::path file = folder / (name + ".jsonl");
  std::error_code ignored;
  for (int i = 2; std::filesystem::exists(file, ignored); ++i) {
    file = folder / (name + "-" + std::to_string(i) + ".jsonl");
  }
  if (auto ok = back_up_to(*database, file); !ok) return fail(ok.error());
  if (auto ok = database->bring_up_to_date(); !ok) return fail(ok.error());
  return std::optional(file);
}

Status beat(Database& database, std::int64_t now_ms) {
  return database.transact([&](soci::session& sql) -> Status {
    const long long now = now_ms;
    sql << "UPDATE heartbeat SET at_ms = :t", soci::use(now);
    return {};
  });
}

Status try_room(Database& database, std::int64_t now_ms) {
  if (auto kept = beat(database, now_ms); !kept) return kept;
  // SQLite writes all anew, into its journal; PostgreSQL where there is room in the table already.
  if (database.backend() == Backend::kSqlite) return {};
  bool fits = false;
  const auto taken_back = database.transact([&](soci::session& sql) -> Status {
    sql << "CREATE TABLE room_on_the_disk (filler TEXT)";
    sql << "INSERT INTO room_on_the_disk SELECT repeat('x', 1000) FROM generate_series(1, 64)";
    fits = true;
    return fail(ErrorCode::kConflict, "taken back");
  });
  return fits ? Status{} : taken_back;
}

Result<std::int64_t> newest_stamp_ms(Database& database) {
  long long newest = 0;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    for (const char* query : {"SELECT COALESCE(MAX(at_ms), 0) FROM audit",
                              "SELECT COALESCE(MAX(seen_ms), 0) FROM session",
                              "SELECT COALESCE(MAX(stored_ms), 0) FROM action"}) {
      long long one = 0;
      sql << query, soci::into(one);
      newest = std::max(newest, one);
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return newest;
}

std::optional<std::uintmax_t> free_bytes(std::string_view connection) {
  const auto store = parse_store(connection);
  if (!store || store->backend != Backend::kSqlite) return std::nullopt;
  std::error_code error;
  const auto folder = std::filesystem::absolute(store->rest, error).parent_path();
  const auto space = std::filesystem::space(folder, error);
  if (error) return std::nullopt;
  return space.available;
}

}  // namespace phren::records
