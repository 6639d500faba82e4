#include "records/people.h"

#include <soci/soci.h>

#include "base/utf8.h"
#include "records/accounts.h"

namespace phren::records {
namespace {

Status check_names(std::string_view login, std::string_view name) {
  if (login.empty() || login.size() > 64) {
    return fail(
        out_of_range("length of login", static_cast<double>(login.size()), "1 to 64 bytes"));
  }
  if (name.empty() || name.size() > 200) {
    return fail(out_of_range("length of name", static_cast<double>(name.size()), "1 to 200 bytes"));
  }
  if (!is_utf8(login) || !is_utf8(name)) {
    return fail(ErrorCode::kInvalidArgument, "login and name must be UTF-8");
  }
  return {};
}

}  // namespace

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

Result<Person> People::insert(const Person& person, const std::string& hash, std::int64_t now_ms) {
  const std::string role_word(to_string(person.role));
  const long long now = now_ms;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    if (read_account(sql, "login", person.login).found) {
      return fail(out_of_range("login", "'" + person.login + "'", "one that nobody has yet"));
    }
    sql << "INSERT INTO person (id, login, name, role, password_hash, created_ms)"
           " VALUES (:i, :l, :n, :r, :h, :c)",
        soci::use(person.id), soci::use(person.login), soci::use(person.name), soci::use(role_word),
        soci::use(hash), soci::use(now);
    insert_audit(sql, {now_ms, person.id, "person_added", person.id, role_word});
    return {};
  }));
  return person;
}

Result<Person> People::add(std::string_view login, std::string_view name, Role role,
                           std::string_view password, std::int64_t now_ms) {
  TRY(check_names(login, name));
  TRY(check_password(password));
  const auto hash = TRY(hash_password(password, cost_));
  return insert({random_id(), std::string(login), std::string(name), role}, hash, now_ms);
}

Result<Person> People::add_without_password(std::string_view login, std::string_view name,
                                            Role role, std::int64_t now_ms) {
  TRY(check_names(login, name));
  return insert({random_id(), std::string(login), std::string(name), role}, "", now_ms);
}

Status People::set_password(std::string_view person_id, std::string_view password,
                            std::int64_t now_ms) {
  TRY(check_password(password));
  const auto hash = TRY(hash_password(password, cost_));
  const std::string id(person_id);
  return db_.transact([&](soci::session& sql) -> Status {
    if (!read_account(sql, "id", id).found) {
      return fail(ErrorCode::kNotFound, "person is not in the store");
    }
    sql << "UPDATE person SET password_hash = :h WHERE id = :p", soci::use(hash), soci::use(id);
    sql << "DELETE FROM session WHERE person_id = :p", soci::use(id);
    insert_audit(sql, {now_ms, id, "password_set", id, ""});
    return {};
  });
}

Result<Person> People::find(std::string_view person_id) {
  Account account;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "id", std::string(person_id));
    return {};
  }));
  if (!account.found) return fail(ErrorCode::kNotFound, "person is not in the store");
  return account.person;
}

Result<Person> People::find_login(std::string_view login) {
  Account account;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    account = read_account(sql, "login", std::string(login));
    return {};
  }));
  if (!account.found) return fail(ErrorCode::kNotFound, "nobody has this login");
  return account.person;
}

Result<bool> People::anyone_has_password() {
  int count = 0;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT COUNT(*) FROM person WHERE password_hash <> ''", soci::into(count);
    return {};
  }));
  return count > 0;
}

Result<std::vector<Person>> People::all() {
  std::vector<Person> people;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        sql.prepare << "SELECT id, login, name, role FROM person ORDER BY login";
    for (const soci::row& row : rows) {
      people.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
                        parse_role(row.get<std::string>(3)).value_or(Role::kLearner)});
    }
    return {};
  }));
  return people;
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
    for (const char* statement :
         {"DELETE FROM action WHERE encounter_id IN (SELECT id FROM encounter WHERE person_id = "
          ":p)",
          "DELETE FROM examiner_mark WHERE encounter_id IN"
          " (SELECT id FROM encounter WHERE person_id = :p)",
          "DELETE FROM replay_cache WHERE encounter_id IN"
          " (SELECT id FROM encounter WHERE person_id = :p)",
          "DELETE FROM encounter WHERE person_id = :p",
          "DELETE FROM drill_answer WHERE person_id = :p",
          "DELETE FROM drill_item WHERE person_id = :p",
          "DELETE FROM ability_item WHERE test_id IN"
          " (SELECT id FROM ability_test WHERE person_id = :p)",
          "DELETE FROM ability_test WHERE person_id = :p", "DELETE FROM angoff WHERE judge_id = :p",
          "DELETE FROM round_line WHERE round_id IN (SELECT id FROM round WHERE opened_by = :p)",
          "DELETE FROM round_person WHERE round_id IN (SELECT id FROM round WHERE opened_by = :p)",
          "DELETE FROM round WHERE opened_by = :p", "DELETE FROM class_staff WHERE person_id = :p",
          "DELETE FROM member WHERE person_id = :p", "DELETE FROM session WHERE person_id = :p",
          "DELETE FROM person WHERE id = :p"}) {
      sql << statement, soci::use(id);
    }
    const std::string tried = "login:" + account.person.login;
    const std::string from_anywhere = tried + "@";
    sql << "DELETE FROM login_failure WHERE login = :l OR"
           " SUBSTR(login, 1, LENGTH(CAST(:a AS TEXT))) = :b",
        soci::use(tried), soci::use(from_anywhere), soci::use(from_anywhere);
    insert_audit(sql, {now_ms, std::string(actor_id), "person_removed", id, ""});
    return {};
  });
}

}  // namespace phren::records
