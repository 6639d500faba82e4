// Who there is: people with roles and passwords.
//
// Units:   times in ms since 1970 UTC, given by the caller.
// Errors:  kInvalidArgument names the field, kNotFound an unknown person.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/audit.h"
#include "records/database.h"
#include "records/passwords.h"

namespace phren::records {

// What a person may do at all; what in a class, says the class (classes.h).
enum class Role { kInstructor, kExaminer, kLearner };
std::string_view to_string(Role role);
Result<Role> parse_role(std::string_view text);

struct Person {
  std::string id;
  std::string login;
  std::string name;
  Role role = Role::kLearner;
};

// Wrong tries, whatever at, are forgotten after this time.
inline constexpr std::int64_t kTriesWindow_s = 15 * 60;

struct LoginLimits {
  std::int64_t window_ms = 1000 * kTriesWindow_s;
  int most_failures = 8;           // in the window, per login
  int most_failures_address = 40;  // in the window, per network address
};
struct SessionLimits {
  std::int64_t idle_ms = 2LL * 3600 * 1000;
  std::int64_t longest_ms = 12LL * 3600 * 1000;
};

struct OpenSession {
  std::string token;  // goes to the browser; not stored
  std::string csrf;
  Person person;
  std::string class_id = {};    // of a session made by joining
  std::string station_id = {};  // the same; empty when a whole class was joined
};

struct SessionOwner {
  std::string person_id;
  std::string class_id = {};  // of a session made by joining
};

class People {
 public:
  explicit People(Database& database, const PasswordCost& cost = {}) : db_(database), cost_(cost) {}

  // Login 1-64 characters, password 10-200 bytes; kInvalidArgument names what is wrong.
  Result<Person> add(std::string_view login, std::string_view name, Role role,
                     std::string_view password, std::int64_t now_ms);
  // Someone who cannot log in, only join a class by key.
  Result<Person> add_without_password(std::string_view login, std::string_view name, Role role,
                                      std::int64_t now_ms);
  Result<Person> find(std::string_view person_id);
  Result<Person> find_login(std::string_view login);
  Result<std::vector<Person>> all();
  Result<bool> anyone_has_password();
  Status set_password(std::string_view person_id, std::string_view password, std::int64_t now_ms);

  // Sessions (sessions.cc). A refused login never says whether the name or the password was wrong.
  // `address` is the network address asked from; empty does not count.
  Result<OpenSession> login(std::string_view login, std::string_view password, std::int64_t now_ms,
                            const LoginLimits& limits = {}, std::string_view address = {});
  // A session without a password, for who has shown a key: see classes.h. Ends earlier joined ones.
  Result<OpenSession> open_joined(const Person& person, std::string_view class_id,
                                  std::string_view station_id, std::int64_t now_ms,
                                  std::string_view address = {});
  // kNotFound when unknown or expired; keeps the session alive otherwise.
  Result<OpenSession> resume(std::string_view token, std::int64_t now_ms,
                             const SessionLimits& limits = {});
  // Whose session it is, or was: for the log alone, neither checked nor kept alive.
  Result<SessionOwner> owner(std::string_view token);
  Status logout(std::string_view token);
  // All other sessions of the person end. kTooMany after too many wrong old passwords: neither
  // computed nor recorded then.
  Status change_password(const OpenSession& session, std::string_view old_password,
                         std::string_view new_password, std::int64_t now_ms,
                         const LoginLimits& limits = {});

  // Everything of this person is deleted: account, sessions, memberships, encounters, answers and
  // marks on them. The audit log keeps that it happened, without the name. Refused for whoever
  // still owns a class.
  Status remove(std::string_view person_id, std::string_view actor_id, std::int64_t now_ms);

 private:
  Result<Person> insert(const Person& person, const std::string& hash, std::int64_t now_ms);
  Database& db_;
  PasswordCost cost_;
};

// Wrong tries under a name such as "login:ingrid" or "join:10.0.0.7", counted in a window.
Result<int> count_failures(Database& database, std::string_view name, std::int64_t since_ms);
Status note_failure(Database& database, std::string_view name, std::int64_t now_ms);

}  // namespace phren::records
