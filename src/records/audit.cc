#include "records/audit.h"

#include <soci/soci.h>

#include "base/utf8.h"

namespace phren::records {
namespace {

// What was asked for is written down as it came; these keep one line of it readable and small.
constexpr std::size_t kMostId_bytes = 64, kMostSubject_bytes = 200, kMostDetail_bytes = 500;
constexpr const char* kColumns = "at_ms, actor_id, event, subject, detail, class_id";

AuditEntry entry_of(const soci::row& row) {
  return {row.get<long long>(0),   row.get<std::string>(1), row.get<std::string>(2),
          row.get<std::string>(3), row.get<std::string>(4), row.get<std::string>(5)};
}

}  // namespace

void insert_audit(soci::session& sql, const AuditEntry& e) {
  const std::string id = random_id();
  const long long at = e.at_ms;
  const std::string actor = clean_utf8(e.actor_id, kMostId_bytes);
  const std::string subject = clean_utf8(e.subject, kMostSubject_bytes);
  const std::string detail = clean_utf8(e.detail, kMostDetail_bytes);
  const std::string class_id = clean_utf8(e.class_id, kMostId_bytes);
  sql << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail, class_id)"
         " VALUES (:i, :t, :a, :e, :s, :d, :c)",
      soci::use(id), soci::use(at), soci::use(actor), soci::use(e.event), soci::use(subject),
      soci::use(detail), soci::use(class_id);
}

Status note_audit(Database& database, const AuditEntry& entry) {
  return database.transact([&](soci::session& sql) -> Status {
    insert_audit(sql, entry);
    return {};
  });
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
