// What was done and what was refused, kept for those who must answer for it.
//
// Units:   times in ms since 1970 UTC.
// Limits:  entries name people by id, so that a deleted person leaves no name behind; addresses can
//          be forgotten after a time without breaking the chain.
// Safety:  each entry carries a hash over itself and the hash before it (BLAKE2b, 256 bits), made in
//          the transaction that wrote it: an entry changed, added in between or taken out is found.
//          Entries cut off at the end are found only against a head noted elsewhere: the server logs
//          it when it starts and ends, and every backup ends with it.
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
  std::string class_id = {};          // empty: no class has to do with it
  std::string was = {}, became = {};  // the value before and after, of a change
  std::string address = {};           // network address of who did it
};
// Fills `was` and `became` with the fields in which two JSON texts differ: {"/plan/pass_share": 0.7}.
void note_change(AuditEntry& entry, std::string_view was, std::string_view became);
Status note_audit(Database& database, const AuditEntry& entry);
// Inside a transaction of the caller.
void insert_audit(soci::session& sql, const AuditEntry& entry);
// Chains what the transaction has written; the last step before its commit.
void seal_audit(soci::session& sql, Backend backend);

struct AuditHead {
  long long position = 0;  // 0: no entries
  std::string hash;
};
// "N:HASH"; kInvalidArgument otherwise.
Result<AuditHead> parse_audit_head(std::string_view text);
std::string to_string(const AuditHead& head);
Result<AuditHead> audit_head(Database& database);
// Follows the chain from its first entry to the last and gives that; kMalformed names the first
// entry that does not fit. `noted`: an earlier head that must still be there (position 0: none).
Result<AuditHead> verify_audit(Database& database, const AuditHead& noted = {});
// Gives how many entries lost their address.
Result<int> forget_addresses(Database& database, std::int64_t before_ms);

// In the order of their times.
Result<std::vector<AuditEntry>> read_audit(Database& database);
// The newest `most` of one class, newest first.
Result<std::vector<AuditEntry>> read_audit_of_class(Database& database, std::string_view class_id,
                                                    int most);

}  // namespace phren::records
