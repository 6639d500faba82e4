// The roll of a class: part of Classes.
#include <soci/soci.h>

#include "records/accounts.h"
#include "records/classes.h"

namespace phren::records {
namespace {

constexpr std::size_t kMemberKeySigns = 8;
constexpr const char* kMemberQuery =
    "SELECT p.id, p.login, p.name, p.role, m.join_key, m.extra_time_share FROM member m JOIN "
    "person p"
    " ON p.id = m.person_id WHERE m.class_id = :c";

Member member_of(const soci::row& row) {
  return {{row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
           parse_role(row.get<std::string>(3)).value_or(Role::kLearner)},
          row.get<std::string>(4),
          row.get<double>(5)};
}

Result<Member> one_member(Database& db, std::string_view class_id, const char* column,
                          std::string_view value) {
  const std::string id(class_id), wanted(value);
  std::optional<Member> found;
  TRY(db.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << std::string(kMemberQuery) + " AND " + column + " = :v", soci::use(id),
         soci::use(wanted));
    for (const soci::row& row : rows) found = member_of(row);
    return {};
  }));
  if (!found) return fail(ErrorCode::kNotFound, "nobody of this kind is on the roll of the class");
  return *found;
}

void insert_member(soci::session& sql, const std::string& class_id, const Member& member) {
  sql << "INSERT INTO member (class_id, person_id, extra_time_share, join_key)"
         " VALUES (:c, :p, :x, :k)",
      soci::use(class_id), soci::use(member.person.id), soci::use(member.extra_time_share),
      soci::use(member.key);
}

// Whether a class that this actor teaches has the person on its roll.
bool is_known_to(soci::session& sql, const std::string& actor, const std::string& person) {
  int count = 0;
  sql << "SELECT COUNT(*) FROM member m JOIN class_staff s ON s.class_id = m.class_id WHERE"
         " m.person_id = :p AND s.person_id = :a AND s.role = 'instructor'",
      soci::use(person), soci::use(actor), soci::into(count);
  return count > 0;
}

Status merge_one(soci::session& sql, Database& db, const std::string& class_id,
                 const std::string& actor, const RosterEntry& entry, std::int64_t now_ms,
                 RosterChange& change) {
  Account account = read_account(sql, "login", entry.login);
  if (!account.found) {
    auto made =
        TRY(People(db).add_without_password(entry.login, entry.name, Role::kLearner, now_ms));
    insert_member(sql, class_id, {made, new_code(kMemberKeySigns), entry.extra_time_share});
    ++change.added;
    return {};
  }
  if (account.person.role != Role::kLearner || !is_known_to(sql, actor, account.person.id)) {
    return fail(out_of_range("login", "'" + entry.login + "'",
                             "new, or that of a learner in one of your classes"));
  }
  double old_share = 0.0;
  sql << "SELECT extra_time_share FROM member WHERE class_id = :c AND person_id = :p",
      soci::use(class_id), soci::use(account.person.id), soci::into(old_share);
  if (!sql.got_data()) {
    insert_member(sql, class_id,
                  {account.person, new_code(kMemberKeySigns), entry.extra_time_share});
    ++change.added;
  } else if (old_share != entry.extra_time_share || account.person.name != entry.name) {
    sql << "UPDATE member SET extra_time_share = :x WHERE class_id = :c AND person_id = :p",
        soci::use(entry.extra_time_share), soci::use(class_id), soci::use(account.person.id);
    ++change.changed;
  }
  sql << "UPDATE person SET name = :n WHERE id = :p", soci::use(entry.name),
      soci::use(account.person.id);
  return {};
}

}  // namespace

Result<std::vector<Member>> Classes::members(std::string_view class_id) {
  const std::string id(class_id);
  std::vector<Member> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << std::string(kMemberQuery) + " ORDER BY p.name, p.id", soci::use(id));
    for (const soci::row& row : rows) list.push_back(member_of(row));
    return {};
  }));
  return list;
}

Result<Member> Classes::member(std::string_view class_id, std::string_view person_id) {
  return one_member(db_, class_id, "m.person_id", person_id);
}

Result<Member> Classes::member_by_key(std::string_view class_id, std::string_view key) {
  if (key.empty()) return fail(ErrorCode::kNotFound, "the key is empty");
  return one_member(db_, class_id, "m.join_key", key);
}

Result<RosterChange> Classes::merge_roster(std::string_view class_id,
                                           const std::vector<RosterEntry>& entries,
                                           std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(class_id), actor(actor_id);
  RosterChange change;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::size_t row = 1;
    for (const RosterEntry& entry : entries) {
      ++row;
      if (auto one = merge_one(sql, db_, id, actor, entry, now_ms, change); !one) {
        return fail(at("row " + std::to_string(row), one.error()));
      }
    }
    sql << "SELECT COUNT(*) FROM member WHERE class_id = :c", soci::use(id),
        soci::into(change.total);
    const auto formulas =
        std::count_if(entries.begin(), entries.end(), [](const RosterEntry& entry) {
          return could_run_in_spreadsheet(entry.login) || could_run_in_spreadsheet(entry.name);
        });
    insert_audit(sql, {now_ms, actor, "roster_merged", id,
                       std::to_string(change.added) + " added, " + std::to_string(change.changed) +
                           " changed" +
                           (formulas > 0 ? "; rows with text that a spreadsheet could run: " +
                                               std::to_string(formulas)
                                         : ""),
                       id});
    return {};
  });
  if (!ok) return fail(ok.error());
  return change;
}

Result<std::set<std::string>> Classes::joined(std::string_view class_id,
                                              std::string_view station_id) {
  const std::string id(class_id), station(station_id);
  std::set<std::string> ids;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<std::string> rows =
        (sql.prepare << "SELECT person_id FROM session WHERE class_id = :c AND station_id = :s",
         soci::use(id), soci::use(station));
    for (const std::string& one : rows) ids.insert(one);
    return {};
  }));
  return ids;
}

Result<int> Classes::guests(std::string_view class_id, std::string_view station_id) {
  const std::string id(class_id), station(station_id);
  int count = 0;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT COUNT(DISTINCT a.actor_id) FROM audit a JOIN person p ON p.id = a.actor_id WHERE"
           " a.class_id = :c AND a.event = 'joined' AND a.subject = :s AND p.login LIKE 'guest-%'",
        soci::use(id), soci::use(station), soci::into(count);
    return {};
  }));
  return count;
}

Result<Member> Classes::add_guest(std::string_view class_id, std::string_view name,
                                  std::int64_t now_ms) {
  const std::string id(class_id);
  Member member;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    auto made = TRY(People(db_).add_without_password("guest-" + random_id().substr(0, 12), name,
                                                     Role::kLearner, now_ms));
    member = {made, new_code(kMemberKeySigns), 0.0};
    insert_member(sql, id, member);
    return {};
  }));
  return member;
}

Status Classes::remove_member(std::string_view class_id, std::string_view person_id,
                              std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(class_id), person(person_id);
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM member WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person);
    sql << "DELETE FROM session WHERE person_id = :p AND class_id = :c", soci::use(person),
        soci::use(id);
    insert_audit(sql, {now_ms, std::string(actor_id), "member_removed", person, "", id});
    return {};
  });
}

}  // namespace phren::records
