// The chain of hashes through the audit log.
#include <soci/soci.h>

#include <charconv>
#include <nlohmann/json.hpp>

#include "records/audit.h"

namespace phren::records {
namespace {

// "audit" as a number: whoever chains entries on PostgreSQL takes turns. It is the last lock that a
// transaction takes, so no two wait for each other.
constexpr const char* kTakeTurns = "SELECT pg_advisory_xact_lock(418280437108)";
constexpr const char* kRow =
    "SELECT id, at_ms, actor_id, event, subject, detail, class_id, was, became, address_seal,"
    " address, address_salt, position, chain FROM audit ";

// What the hash covers: everything but the address itself, of which the seal stays when it is
// forgotten.
std::string chained(const std::string& before, const soci::row& row, long long position) {
  nlohmann::json covered = nlohmann::json::array({before, position, row.get<long long>(1)});
  for (const std::size_t column : {0u, 2u, 3u, 4u, 5u, 6u, 7u, 8u, 9u}) {
    covered.push_back(row.get<std::string>(column));
  }
  return hash_text(covered.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
}

AuditHead read_head(soci::session& sql) {
  AuditHead head;
  sql << "SELECT position, chain FROM audit WHERE position > 0 ORDER BY position DESC LIMIT 1",
      soci::into(head.position), soci::into(head.hash);
  if (!sql.got_data()) return {};
  return head;
}

Error broken(long long position, const std::string& what) {
  return {ErrorCode::kMalformed, "the audit log does not hold together at entry " +
                                     std::to_string(position) + ": " + what};
}

// kMalformed when `row` is not what was written after `head`; else moves the head on.
Status follow(const soci::row& row, AuditHead& head) {
  const long long position = row.get<long long>(12);
  if (position != head.position + 1) {
    return fail(broken(head.position + 1,
                       "it is missing; entry " + std::to_string(position) + " comes next"));
  }
  const std::string address = row.get<std::string>(10);
  if (!address.empty() &&
      hash_text(row.get<std::string>(11) + address) != row.get<std::string>(9)) {
    return fail(broken(position, "its address was changed"));
  }
  if (chained(head.hash, row, position) != row.get<std::string>(13)) {
    return fail(broken(position, "it, or the one before it, was changed"));
  }
  head = {position, row.get<std::string>(13)};
  return {};
}

}  // namespace

void seal_audit(soci::session& sql, Backend backend) {
  int open = 0;
  sql << "SELECT COUNT(*) FROM (SELECT 1 FROM audit WHERE chain = '' LIMIT 1) AS one",
      soci::into(open);
  if (open == 0) return;
  if (backend == Backend::kPostgresql) sql << kTakeTurns;
  AuditHead head = read_head(sql);
  struct Link {
    std::string id, hash;
  };
  std::vector<Link> links;
  const soci::rowset<soci::row> rows = sql.prepare
                                       << std::string(kRow) + "WHERE chain = '' ORDER BY at_ms, id";
  for (const soci::row& row : rows) {
    ++head.position;
    head.hash = chained(head.hash, row, head.position);
    links.push_back({row.get<std::string>(0), head.hash});
  }
  long long position = head.position - static_cast<long long>(links.size());
  for (const Link& link : links) {
    ++position;
    sql << "UPDATE audit SET position = :p, chain = :c WHERE id = :i", soci::use(position),
        soci::use(link.hash), soci::use(link.id);
  }
}

Result<AuditHead> parse_audit_head(std::string_view text) {
  const std::size_t colon = text.find(':');
  AuditHead head;
  const auto [end, error] =
      std::from_chars(text.data(), text.data() + std::min(colon, text.size()), head.position);
  if (colon == std::string_view::npos || error != std::errc() || end != text.data() + colon ||
      head.position < 1 || text.size() != colon + 65) {
    return fail(out_of_range("--head", "'" + std::string(text) + "'",
                             "NUMBER:HASH, as `phren records audit --verify` prints it"));
  }
  head.hash = text.substr(colon + 1);
  return head;
}

std::string to_string(const AuditHead& head) {
  return std::to_string(head.position) + ":" + head.hash;
}

Result<AuditHead> audit_head(Database& database) {
  AuditHead head;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    head = read_head(sql);
    return {};
  });
  if (!ok) return fail(ok.error());
  return head;
}

Result<AuditHead> verify_audit(Database& database, const AuditHead& noted) {
  AuditHead head;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows = sql.prepare << std::string(kRow) + "ORDER BY position, id";
    for (const soci::row& row : rows) {
      if (auto fits = follow(row, head); !fits) return fits;
      if (head.position == noted.position && head.hash != noted.hash) {
        return fail(broken(head.position, "it is not the one whose hash was noted"));
      }
    }
    if (head.position < noted.position) {
      return fail(broken(head.position + 1, "the log ended at " + std::to_string(noted.position) +
                                                " when its head was noted"));
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return head;
}

}  // namespace phren::records
