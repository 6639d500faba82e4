// Coming in, staying and leaving.
#include <soci/soci.h>

#include <map>
#include <mutex>

#include "records/accounts.h"

namespace phren::records {
namespace {

// Written no oftener than this, so that reading does not become writing.
constexpr std::int64_t kSeenEvery_ms = 60'000;
// Wrong tries and sessions older than any limit are of no use.
constexpr std::int64_t kKeepFailures_ms = 24LL * 3600 * 1000;
constexpr std::int64_t kKeepSessions_ms = 7LL * 24 * 3600 * 1000;
// One who guesses must not lock out the owner of the login, who asks from elsewhere; so tries from
// everywhere together have a ceiling this many times higher.
constexpr int kEverywhere = 10;

// What an unknown login is checked against, made once: a known and an unknown one cost the same.
std::string nobodys_hash(const PasswordCost& cost) {
  static std::mutex mutex;
  static std::map<std::pair<unsigned long long, std::size_t>, std::string> made;
  const std::lock_guard lock(mutex);
  std::string& hash = made[{cost.passes, cost.memory_bytes}];
  if (hash.empty()) hash = hash_password("no such person", cost).value_or("");
  return hash;
}

int failures_since(soci::session& sql, const std::string& name, long long since) {
  int count = 0;
  sql << "SELECT COUNT(*) FROM login_failure WHERE login = :l AND at_ms > :s", soci::use(name),
      soci::use(since), soci::into(count);
  return count;
}

void insert_failure(soci::session& sql, const std::string& name, long long now) {
  const long long old = now - kKeepFailures_ms;
  sql << "DELETE FROM login_failure WHERE at_ms < :o", soci::use(old);
  sql << "INSERT INTO login_failure (login, at_ms) VALUES (:l, :t)", soci::use(name),
      soci::use(now);
}

AuditEntry entry(std::int64_t now_ms, const std::string& actor, const char* event,
                 const std::string& subject, std::string_view address,
                 const std::string& class_id = {}) {
  AuditEntry made{now_ms, actor, event, subject, "", class_id};
  made.address = address;
  return made;
}

void insert_session(soci::session& sql, const OpenSession& open, long long now) {
  const std::string hash = hash_token(open.token);
  const long long old = now - kKeepSessions_ms;
  sql << "DELETE FROM session WHERE created_ms < :o", soci::use(old);
  sql << "INSERT INTO session (token_hash, person_id, csrf, created_ms, seen_ms, class_id,"
         " station_id) VALUES (:h, :p, :c, :t, :s, :k, :a)",
      soci::use(hash), soci::use(open.person.id), soci::use(open.csrf), soci::use(now),
      soci::use(now), soci::use(open.class_id), soci::use(open.station_id);
}

// A desk, a phone, a tablet; what was left open elsewhere before that ends (ENGINEERING).
void end_oldest(soci::session& sql, const std::string& person_id) {
  sql << "DELETE FROM session WHERE person_id = :p AND class_id = '' AND token_hash NOT IN (SELECT"
         " token_hash FROM session WHERE person_id = :q AND class_id = '' ORDER BY created_ms DESC,"
         " token_hash LIMIT 3)",
      soci::use(person_id), soci::use(person_id);
}

}  // namespace

Result<int> count_failures(Database& database, std::string_view name, std::int64_t since_ms) {
  int count = 0;
  TRY(database.transact([&](soci::session& sql) -> Status {
    count = failures_since(sql, std::string(name), since_ms);
    return {};
  }));
  return count;
}

Status note_failure(Database& database, std::string_view name, std::int64_t now_ms) {
  return database.transact([&](soci::session& sql) -> Status {
    insert_failure(sql, std::string(name), now_ms);
    return {};
  });
}

Result<OpenSession> People::login(std::string_view login, std::string_view password,
                                  std::int64_t now_ms, const LoginLimits& limits,
                                  std::string_view address) {
  const std::string by_login = "login:" + std::string(login.substr(0, 64));
  const std::string by_both = by_login + "@" + std::string(address);
  const std::string by_address = "address:" + std::string(address);
  const long long now = now_ms, since = now_ms - limits.window_ms;
  Account account;
  bool blocked = false, is_last_try = false;
  auto ok = db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "login", by_login.substr(6));
    const int failures = failures_since(sql, by_both, since);
    is_last_try = failures + 1 == limits.most_failures;
    blocked = failures >= limits.most_failures ||
              failures_since(sql, by_login, since) >= kEverywhere * limits.most_failures ||
              (!address.empty() &&
               failures_since(sql, by_address, since) >= limits.most_failures_address);
    return {};
  });
  if (!ok) return fail(ok.error());
  // Neither computed nor recorded: who goes on trying costs nothing and prolongs nothing.
  if (blocked) {
    return fail(ErrorCode::kTooMany, "too many wrong passwords; try again later");
  }
  // An unknown name costs as much time as a wrong password, so that names cannot be found out.
  const bool can_log_in = account.found && !account.hash.empty();
  if (!can_log_in) account.hash = nobodys_hash(cost_);
  const bool right = is_password(password, account.hash) && can_log_in;
  std::string fresh_hash;
  if (right && needs_new_hash(account.hash, cost_)) {
    fresh_hash = hash_password(password, cost_).value_or("");
  }
  OpenSession open{new_token(), new_token(), account.person};
  ok = db_.transact([&](soci::session& sql) -> Status {
    if (!right) {
      insert_failure(sql, by_login, now);
      insert_failure(sql, by_both, now);
      if (!address.empty()) insert_failure(sql, by_address, now);
      insert_audit(sql,
                   entry(now_ms, account.person.id, "login_refused", account.person.id, address));
      if (is_last_try) {
        insert_audit(sql,
                     entry(now_ms, account.person.id, "login_blocked", account.person.id, address));
      }
      return {};
    }
    sql << "DELETE FROM login_failure WHERE login = :l OR login = :b", soci::use(by_login),
        soci::use(by_both);
    if (!fresh_hash.empty()) {
      sql << "UPDATE person SET password_hash = :h WHERE id = :p", soci::use(fresh_hash),
          soci::use(open.person.id);
    }
    insert_session(sql, open, now);
    end_oldest(sql, open.person.id);
    insert_audit(sql, entry(now_ms, open.person.id, "login", open.person.id, address));
    return {};
  });
  if (!ok) return fail(ok.error());
  if (!right) return fail(ErrorCode::kInvalidArgument, "login or password is wrong");
  return open;
}

Result<OpenSession> People::open_joined(const Person& person, std::string_view class_id,
                                        std::string_view station_id, std::int64_t now_ms,
                                        std::string_view address) {
  const OpenSession open{new_token(), new_token(), person, std::string(class_id),
                         std::string(station_id)};
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM session WHERE person_id = :p AND class_id <> ''", soci::use(person.id);
    insert_session(sql, open, now_ms);
    insert_audit(sql, entry(now_ms, person.id, "joined", open.station_id, address, open.class_id));
    return {};
  }));
  return open;
}

Result<OpenSession> People::resume(std::string_view token, std::int64_t now_ms,
                                   const SessionLimits& limits) {
  const std::string hash = hash_token(token);
  OpenSession open;
  open.token = std::string(token);
  bool valid = false;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::string role;
    long long created = 0, seen = 0;
    sql << "SELECT s.csrf, s.created_ms, s.seen_ms, s.class_id, s.station_id, p.id, p.login, "
           "p.name,"
           " p.role FROM session s JOIN person p ON p.id = s.person_id WHERE s.token_hash = :h",
        soci::use(hash), soci::into(open.csrf), soci::into(created), soci::into(seen),
        soci::into(open.class_id), soci::into(open.station_id), soci::into(open.person.id),
        soci::into(open.person.login), soci::into(open.person.name), soci::into(role);
    if (!sql.got_data()) return {};
    open.person.role = parse_role(role).value_or(Role::kLearner);
    valid = now_ms - seen <= limits.idle_ms && now_ms - created <= limits.longest_ms;
    if (!valid) {
      sql << "DELETE FROM session WHERE token_hash = :h", soci::use(hash);
      insert_audit(sql,
                   {now_ms, open.person.id, "session_expired", open.person.id, "", open.class_id});
      return {};
    }
    if (now_ms - seen >= kSeenEvery_ms) {
      const long long now = now_ms;
      sql << "UPDATE session SET seen_ms = :t WHERE token_hash = :h", soci::use(now),
          soci::use(hash);
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  if (!valid) return fail(ErrorCode::kNotFound, "the session is unknown or has expired");
  return open;
}

Result<SessionOwner> People::owner(std::string_view token) {
  const std::string hash = hash_token(token);
  SessionOwner owner;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT person_id, class_id FROM session WHERE token_hash = :h", soci::use(hash),
        soci::into(owner.person_id), soci::into(owner.class_id);
    return {};
  }));
  if (owner.person_id.empty()) return fail(ErrorCode::kNotFound, "there is no such session");
  return owner;
}

Status People::logout(std::string_view token) {
  const std::string hash = hash_token(token);
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM session WHERE token_hash = :h", soci::use(hash);
    return {};
  });
}

Status People::change_password(const OpenSession& session, std::string_view old_password,
                               std::string_view new_password, std::int64_t now_ms,
                               const LoginLimits& limits) {
  TRY(check_password(new_password));
  const std::string tried = "password:" + session.person.id;
  Account account;
  bool blocked = false;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "id", session.person.id);
    blocked = failures_since(sql, tried, now_ms - limits.window_ms) >= limits.most_failures;
    return {};
  }));
  if (blocked) return fail(ErrorCode::kTooMany, "too many wrong passwords; try again later");
  if (!is_password(old_password, account.hash)) {
    TRY(note_failure(db_, tried, now_ms));
    return fail(ErrorCode::kInvalidArgument, "the old password is wrong");
  }
  const auto hash = TRY(hash_password(new_password, cost_));
  const std::string kept = hash_token(session.token);
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE person SET password_hash = :h WHERE id = :p", soci::use(hash),
        soci::use(session.person.id);
    sql << "DELETE FROM session WHERE person_id = :p AND token_hash <> :k",
        soci::use(session.person.id), soci::use(kept);
    sql << "DELETE FROM login_failure WHERE login = :l", soci::use(tried);
    insert_audit(sql, {now_ms, session.person.id, "password_changed", session.person.id, ""});
    return {};
  });
}

}  // namespace phren::records
