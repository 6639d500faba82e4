#include "records/audit.h"

#include <soci/soci.h>

#include <nlohmann/json.hpp>

#include "base/utf8.h"

namespace phren::records {
namespace {

// What was asked for is written down as it came; these keep one line of it readable and small.
constexpr std::size_t kMostId_bytes = 64, kMostSubject_bytes = 200, kMostDetail_bytes = 500;
constexpr std::size_t kMostChange_bytes = 4000;
constexpr const char* kColumns =
    "at_ms, actor_id, event, subject, detail, class_id, was, became, address";

AuditEntry entry_of(const soci::row& row) {
  return {row.get<long long>(0),   row.get<std::string>(1), row.get<std::string>(2),
          row.get<std::string>(3), row.get<std::string>(4), row.get<std::string>(5),
          row.get<std::string>(6), row.get<std::string>(7), row.get<std::string>(8)};
}

}  // namespace

void insert_audit(soci::session& sql, const AuditEntry& e) {
  const std::string id = rising_id();
  const long long at = e.at_ms;
  const std::string actor = clean_utf8(e.actor_id, kMostId_bytes);
  const std::string subject = clean_utf8(e.subject, kMostSubject_bytes);
  const std::string detail = clean_utf8(e.detail, kMostDetail_bytes);
  const std::string class_id = clean_utf8(e.class_id, kMostId_bytes);
  const std::string was = clean_utf8(e.was, kMostChange_bytes);
  const std::string became = clean_utf8(e.became, kMostChange_bytes);
  const std::string address = clean_utf8(e.address, kMostId_bytes);
  const std::string salt = address.empty() ? "" : random_id();
  const std::string seal = address.empty() ? "" : hash_text(salt + address);
  sql << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail, class_id, was, became,"
         " address, address_salt, address_seal)"
         " VALUES (:i, :t, :a, :e, :s, :d, :c, :w, :b, :r, :l, :n)",
      soci::use(id), soci::use(at), soci::use(actor), soci::use(e.event), soci::use(subject),
      soci::use(detail), soci::use(class_id), soci::use(was), soci::use(became), soci::use(address),
      soci::use(salt), soci::use(seal);
}

void note_change(AuditEntry& entry, std::string_view was, std::string_view became) {
  const auto fields = [](std::string_view text) {
    const auto json = nlohmann::json::parse(text, nullptr, false);
    return json.is_structured() ? json.flatten() : nlohmann::json::object();
  };
  const nlohmann::json old = fields(was), fresh = fields(became);
  nlohmann::json lost = nlohmann::json::object(), gained = nlohmann::json::object();
  for (const auto& [path, value] : old.items()) {
    if (!fresh.contains(path) || fresh[path] != value) lost[path] = value;
  }
  for (const auto& [path, value] : fresh.items()) {
    if (!old.contains(path) || old[path] != value) gained[path] = value;
  }
  const auto text = [](const nlohmann::json& json) {
    return json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  };
  entry.was = text(lost);
  entry.became = text(gained);
}

Status note_audit(Database& database, const AuditEntry& entry) {
  return database.transact([&](soci::session& sql) -> Status {
    insert_audit(sql, entry);
    return {};
  });
}

Result<int> forget_addresses(Database& database, std::int64_t before_ms) {
  int forgotten = 0;
  const long long before = before_ms;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    sql << "SELECT COUNT(*) FROM audit WHERE at_ms < :t AND address <> ''", soci::use(before),
        soci::into(forgotten);
    sql << "UPDATE audit SET address = '', address_salt = '' WHERE at_ms < :t AND address <> ''",
        soci::use(before);
    return {};
  });
  if (!ok) return fail(ok.error());
  return forgotten;
}

Result<std::vector<AuditEntry>> read_audit(Database& database) {
  std::vector<AuditEntry> entries;
  TRY(database.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        sql.prepare << std::string("SELECT ") + kColumns + " FROM audit ORDER BY at_ms, id";
    for (const soci::row& row : rows) entries.push_back(entry_of(row));
    return {};
  }));
  return entries;
}

Result<std::vector<AuditEntry>> read_audit_of_class(Database& database, std::string_view class_id,
                                                    int most) {
  std::vector<AuditEntry> entries;
  const std::string id(class_id);
  TRY(database.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << std::string("SELECT ") + kColumns +
                            " FROM audit WHERE class_id = :c ORDER BY at_ms DESC, id LIMIT " +
                            std::to_string(most),
         soci::use(id));
    for (const soci::row& row : rows) entries.push_back(entry_of(row));
    return {};
  }));
  return entries;
}

}  // namespace phren::records
