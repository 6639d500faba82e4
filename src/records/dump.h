// The whole store as one text file and back: backup, restore, moving from SQLite to PostgreSQL.
//
// Format:  docs/formats/dump.md: JSON Lines, a header, one line per row, and an end with their number
//          and a checksum. Sessions and failed logins are left out; password hashes are in it, so keep
//          the file as safe as the store.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "records/audit.h"
#include "records/database.h"

namespace phren::records {

// Also of a store of an older version, as it is.
Result<std::string> dump_all(Database& database);

struct DumpFacts {
  int version = 0;
  std::size_t rows = 0;
  bool has_end = false;       // dumps of version 5 and older have none, so a cut one cannot be told
  AuditHead audit_head = {};  // position 0: no entries
};
// Reads a dump without a store: header, every line, number and checksum. Errors name the line.
Result<DumpFacts> check_dump(std::string_view text);
// Only into an empty store; all or nothing, after check_dump().
Status restore_all(Database& database, std::string_view text);

// Everything kept about one person, for that person: account, memberships, encounters with their
// actions, answers, marks. Without the password hash.
struct ExportLimits {
  // For the person: what would tell a station's case or marks before its release stays out.
  bool hides_unreleased = false;
  std::string class_id =
      {};  // only this class's memberships and encounters, and practice; empty: all
};
Result<std::string> export_person(Database& database, std::string_view person_id,
                                  const ExportLimits& limits = {});

}  // namespace phren::records
