// Who may come in: people with roles, passwords, sessions, and a log of what was done.
//
// Units:   times in ms since 1970 UTC, given by the caller.
// Errors:  a refused login never says whether the name or the password was wrong.
// Source:  argon2id through libsodium, its interactive cost by default; sessions hold 256 random
//          bits, of which only a hash is stored.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

enum class Role { kInstructor, kExaminer, kLearner };
std::string_view to_string(Role role);
Result<Role> parse_role(std::string_view text);

struct Person {
  std::string id;
  std::string login;
  std::string name;
  Role role = Role::kLearner;
};

struct PasswordCost {  // zero: libsodium's interactive cost (64 MiB, 2 passes)
  unsigned long long passes = 0;
  std::size_t memory_bytes = 0;
};

struct LoginLimits {
  std::int64_t window_ms = 15 * 60 * 1000;
  int most_failures = 8;  // in the window, per login
};
struct SessionLimits {
  std::int64_t idle_ms = 2LL * 3600 * 1000;
  std::int64_t longest_ms = 12LL * 3600 * 1000;
};

struct OpenSession {
  std::string token;  // goes to the browser; not stored
  std::string csrf;
  Person person;
};

class People {
 public:
  explicit People(Database& database, const PasswordCost& cost = {}) : db_(database), cost_(cost) {}

  // Login 1-64 characters, password 10-200 bytes; kInvalidArgument names what is wrong.
  Result<Person> add(std::string_view login, std::string_view name, Role role,
                     std::string_view password, std::int64_t now_ms);
  Result<Person> find(std::string_view person_id);
  Result<std::vector<Person>> all();

  Result<OpenSession> login(std::string_view login, std::string_view password, std::int64_t now_ms,
                            const LoginLimits& limits = {});
  // kNotFound when unknown or expired; keeps the session alive otherwise.
  Result<OpenSession> resume(std::string_view token, std::int64_t now_ms,
                             const SessionLimits& limits = {});
  Status logout(std::string_view token);

  // Everything of this person is deleted: account, sessions, memberships, encounters, answers and
  // marks on them. The audit log keeps that it happened, without the name. Refused for whoever
  // still owns a class.
  Status remove(std::string_view person_id, std::string_view actor_id, std::int64_t now_ms);

 private:
  Database& db_;
  PasswordCost cost_;
};

struct AuditEntry {
  std::int64_t at_ms = 0;
  std::string actor_id, event, subject, detail;
};
Status note_audit(Database& database, const AuditEntry& entry);
Result<std::vector<AuditEntry>> read_audit(Database& database);

}  // namespace phren::records
