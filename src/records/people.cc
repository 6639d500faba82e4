#include "records/people.h"

#include <soci/soci.h>
#include <sodium.h>

#include <algorithm>
#include <array>

namespace phren::records {
namespace {

constexpr std::size_t kTokenBytes = 32;

Result<std::string> hash_password(std::string_view password, const PasswordCost& cost) {
  std::array<char, crypto_pwhash_STRBYTES> hash{};
  if (crypto_pwhash_str_alg(
          hash.data(), password.data(), password.size(),
          cost.passes ? cost.passes : crypto_pwhash_OPSLIMIT_INTERACTIVE,
          cost.memory_bytes ? cost.memory_bytes : crypto_pwhash_MEMLIMIT_INTERACTIVE,
          crypto_pwhash_ALG_ARGON2ID13) != 0) {
    return fail(ErrorCode::kIo, "not enough memory to keep a password safely");
  }
  return std::string(hash.data());
}

std::string hex(const unsigned char* bytes, std::size_t size) {
  std::string text(size * 2 + 1, '\0');
  sodium_bin2hex(text.data(), text.size(), bytes, size);
  text.pop_back();
  return text;
}

std::string new_token() {
  std::array<unsigned char, kTokenBytes> bytes{};
  randombytes_buf(bytes.data(), bytes.size());
  return hex(bytes.data(), bytes.size());
}

std::string hash_token(std::string_view token) {
  std::array<unsigned char, crypto_generichash_BYTES> hash{};
  crypto_generichash(hash.data(), hash.size(), reinterpret_cast<const unsigned char*>(token.data()),
                     token.size(), nullptr, 0);
  return hex(hash.data(), hash.size());
}

void insert_audit(soci::session& sql, const AuditEntry& e) {
  const std::string id = random_id();
  const long long at = e.at_ms;
  sql << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail)"
         " VALUES (:i, :t, :a, :e, :s, :d)",
      soci::use(id), soci::use(at), soci::use(e.actor_id), soci::use(e.event), soci::use(e.subject),
      soci::use(e.detail);
}

Status check_account(std::string_view login, std::string_view name, std::string_view password) {
  if (login.empty() || login.size() > 64) {
    return fail(
        out_of_range("length of login", static_cast<double>(login.size()), "1 to 64 bytes"));
  }
  if (name.empty() || name.size() > 200) {
    return fail(out_of_range("length of name", static_cast<double>(name.size()), "1 to 200 bytes"));
  }
  if (password.size() < 10 || password.size() > 200) {
    return fail(out_of_range("length of password", static_cast<double>(password.size()),
                             "10 to 200 bytes"));
  }
  return {};
}

struct Account {
  Person person;
  std::string hash;
  bool found = false;
};

Account read_account(soci::session& sql, const char* column, const std::string& value) {
  Account account;
  std::string role;
  sql << std::string("SELECT id, login, name, role, password_hash FROM person WHERE ") + column +
             " = :v",
      soci::use(value), soci::into(account.person.id), soci::into(account.person.login),
      soci::into(account.person.name), soci::into(role), soci::into(account.hash);
  account.found = sql.got_data();
  if (account.found) account.person.role = parse_role(role).value_or(Role::kLearner);
  return account;
}

Error refused_login() {
  return {ErrorCode::kInvalidArgument, "login or password is wrong"};
}

}  // namespace

std::string_view to_string(Role role) {
  return role == Role::kInstructor ? "instructor"
         : role == Role::kExaminer ? "examiner"
                                   : "learner";
}

Result<Role> parse_role(std::string_view text) {
  for (const Role role : {Role::kInstructor, Role::kExaminer, Role::kLearner}) {
    if (to_string(role) == text) return role;
  }
  return fail(
      out_of_range("role", "'" + std::string(text) + "'", "one of instructor, examiner, learner"));
}

Result<Person> People::add(std::string_view login, std::string_view name, Role role,
                           std::string_view password, std::int64_t now_ms) {
  if (auto ok = check_account(login, name, password); !ok) return fail(ok.error());
  const auto hash = hash_password(password, cost_);
  if (!hash) return fail(hash.error());
  const Person person{random_id(), std::string(login), std::string(name), role};
  const std::string role_word(to_string(role));
  const long long now = now_ms;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    if (read_account(sql, "login", person.login).found) {
      return fail(out_of_range("login", "'" + person.login + "'", "one that nobody has yet"));
    }
    sql << "INSERT INTO person (id, login, name, role, password_hash, created_ms)"
           " VALUES (:i, :l, :n, :r, :h, :c)",
        soci::use(person.id), soci::use(person.login), soci::use(person.name), soci::use(role_word),
        soci::use(*hash), soci::use(now);
    insert_audit(sql, {now_ms, person.id, "person_added", person.id, role_word});
    return {};
  });
  if (!ok) return fail(ok.error());
  return person;
}

Result<Person> People::find(std::string_view person_id) {
  Account account;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "id", std::string(person_id));
    return {};
  });
  if (!ok) return fail(ok.error());
  if (!account.found) return fail(ErrorCode::kNotFound, "person is not in the store");
  return account.person;
}

Result<std::vector<Person>> People::all() {
  std::vector<Person> people;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        sql.prepare << "SELECT id, login, name, role FROM person ORDER BY login";
    for (const soci::row& row : rows) {
      people.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
                        parse_role(row.get<std::string>(3)).value_or(Role::kLearner)});
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return people;
}

Result<OpenSession> People::login(std::string_view login, std::string_view password,
                                  std::int64_t now_ms, const LoginLimits& limits) {
  const std::string name(login.substr(0, 64));
  const long long now = now_ms, since = now_ms - limits.window_ms;
  Account account;
  int failures = 0;
  auto ok = db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "login", name);
    sql << "SELECT COUNT(*) FROM login_failure WHERE login = :l AND at_ms > :s", soci::use(name),
        soci::use(since), soci::into(failures);
    return {};
  });
  if (!ok) return fail(ok.error());
  const bool blocked = failures >= limits.most_failures;
  // An unknown name costs as much time as a wrong password, so that names cannot be found out.
  if (!account.found) account.hash = hash_password("no such person", cost_).value_or("");
  const bool right =
      !blocked && password.size() <= 200 &&
      crypto_pwhash_str_verify(account.hash.c_str(), password.data(), password.size()) == 0 &&
      account.found;
  OpenSession open{new_token(), new_token(), account.person};
  const std::string hash = hash_token(open.token);
  ok = db_.transact([&](soci::session& sql) -> Status {
    if (!right) {
      sql << "INSERT INTO login_failure (login, at_ms) VALUES (:l, :t)", soci::use(name),
          soci::use(now);
      insert_audit(sql, {now_ms, account.person.id, blocked ? "login_blocked" : "login_refused",
                         account.person.id, ""});
      return {};
    }
    sql << "DELETE FROM login_failure WHERE login = :l", soci::use(name);
    sql << "INSERT INTO session (token_hash, person_id, csrf, created_ms, seen_ms)"
           " VALUES (:h, :p, :c, :t, :s)",
        soci::use(hash), soci::use(open.person.id), soci::use(open.csrf), soci::use(now),
        soci::use(now);
    insert_audit(sql, {now_ms, open.person.id, "login", open.person.id, ""});
    return {};
  });
  if (!ok) return fail(ok.error());
  if (blocked) {
    return fail(ErrorCode::kInvalidArgument, "too many wrong passwords; try again later");
  }
  if (!right) return fail(refused_login());
  return open;
}

Result<OpenSession> People::resume(std::string_view token, std::int64_t now_ms,
                                   const SessionLimits& limits) {
  const std::string hash = hash_token(token);
  OpenSession open;
  open.token = std::string(token);
  bool valid = false;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::string person_id;
    long long created = 0, seen = 0;
    sql << "SELECT person_id, csrf, created_ms, seen_ms FROM session WHERE token_hash = :h",
        soci::use(hash), soci::into(person_id), soci::into(open.csrf), soci::into(created),
        soci::into(seen);
    if (!sql.got_data()) return {};
    valid = now_ms - seen <= limits.idle_ms && now_ms - created <= limits.longest_ms;
    if (!valid) {
      sql << "DELETE FROM session WHERE token_hash = :h", soci::use(hash);
      insert_audit(sql, {now_ms, person_id, "session_expired", person_id, ""});
      return {};
    }
    const long long now = now_ms;
    sql << "UPDATE session SET seen_ms = :t WHERE token_hash = :h", soci::use(now), soci::use(hash);
    open.person = read_account(sql, "id", person_id).person;
    return {};
  });
  if (!ok) return fail(ok.error());
  if (!valid) return fail(ErrorCode::kNotFound, "the session is unknown or has expired");
  return open;
}

Status People::logout(std::string_view token) {
  const std::string hash = hash_token(token);
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM session WHERE token_hash = :h", soci::use(hash);
    return {};
  });
}

Status People::remove(std::string_view person_id, std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(person_id);
  return db_.transact([&](soci::session& sql) -> Status {
    const Account account = read_account(sql, "id", id);
    if (!account.found) return fail(ErrorCode::kNotFound, "person is not in the store");
    int classes = 0;
    sql << "SELECT COUNT(*) FROM class_group WHERE instructor_id = :p", soci::use(id),
        soci::into(classes);
    if (classes > 0) {
      return fail(out_of_range("classes of this person", classes, "0; hand them over first"));
    }
    for (
        const char* statement :
        {"DELETE FROM action WHERE encounter_id IN (SELECT id FROM encounter WHERE person_id = :p)",
         "DELETE FROM examiner_mark WHERE encounter_id IN"
         " (SELECT id FROM encounter WHERE person_id = :p)",
         "DELETE FROM encounter WHERE person_id = :p",
         "DELETE FROM drill_answer WHERE person_id = :p", "DELETE FROM member WHERE person_id = :p",
         "DELETE FROM session WHERE person_id = :p", "DELETE FROM person WHERE id = :p"}) {
      sql << statement, soci::use(id);
    }
    sql << "DELETE FROM login_failure WHERE login = :l", soci::use(account.person.login);
    insert_audit(sql, {now_ms, std::string(actor_id), "person_removed", id, ""});
    return {};
  });
}

Status note_audit(Database& database, const AuditEntry& entry) {
  return database.transact([&](soci::session& sql) -> Status {
    insert_audit(sql, entry);
    return {};
  });
}

Result<std::vector<AuditEntry>> read_audit(Database& database) {
  std::vector<AuditEntry> entries;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        sql.prepare
        << "SELECT at_ms, actor_id, event, subject, detail FROM audit ORDER BY at_ms, id";
    for (const soci::row& row : rows) {
      entries.push_back({row.get<long long>(0), row.get<std::string>(1), row.get<std::string>(2),
                         row.get<std::string>(3), row.get<std::string>(4)});
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return entries;
}

}  // namespace phren::records
