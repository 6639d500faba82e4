// What was done and what was refused, kept for those who must answer for it.
//
// Units:   times in ms since 1970 UTC.
// Limits:  entries name people by id, so that a deleted person leaves no name behind.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

struct AuditEntry {
  std::int64_t at_ms = 0;
  std::string actor_id, event, subject, detail;
  std::string class_id = {};  // empty: no class has to do with it
};
Status note_audit(Database& database, const AuditEntry& entry);
// Inside a transaction of the caller.
void insert_audit(soci::session& sql, const AuditEntry& entry);

// In the order of their times.
Result<std::vector<AuditEntry>> read_audit(Database& database);
// The newest `most` of one class, newest first.
Result<std::vector<AuditEntry>> read_audit_of_class(Database& database, std::string_view class_id,
                                                    int most);

}  // namespace phren::records
