#include "records/ability_tests.h"

#include <soci/soci.h>

#include <cstdlib>
#include <set>

namespace phren::records {
namespace {

constexpr const char* kTestColumns =
    "SELECT id, person_id, seed, bank, started_ms, ended_ms, end_reason FROM ability_test WHERE ";

AbilityTestRecord test_of(const soci::row& row) {
  return {row.get<std::string>(0), row.get<std::string>(1),
          row.get<std::string>(2), row.get<std::string>(3),
          row.get<long long>(4),   row.get<long long>(5),
          row.get<std::string>(6), {}};
}

void read_items(soci::session& sql, AbilityTestRecord& test) {
  const soci::rowset<soci::row> rows =
      (sql.prepare << "SELECT id, mode, skill, kind_position, detail, asked_ms, answered, is_right,"
                      " answered_ms FROM ability_item WHERE test_id = :t ORDER BY position",
       soci::use(test.id));
  for (const soci::row& row : rows) {
    test.items.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
                          row.get<long long>(3), row.get<std::string>(4), row.get<long long>(5),
                          row.get<std::string>(6), row.get<long long>(7) != 0,
                          row.get<long long>(8)});
  }
}

constexpr const char* kTallies =
    "SELECT person_id, mode, skill, CAST(SUM(n) AS BIGINT), CAST(SUM(r) AS BIGINT) FROM ("
    "SELECT person_id, mode, skill, 1 AS n, CASE WHEN answered = skill THEN 1 ELSE 0 END AS r"
    " FROM (SELECT person_id, mode, skill, answered, LAG(skill) OVER (PARTITION BY person_id, mode"
    " ORDER BY at_ms, answer_id) AS before_it FROM drill_answer WHERE person_id IN"
    " (SELECT person_id FROM member WHERE class_id = :c)) AS played"
    " WHERE before_it IS NULL OR before_it <> skill"
    " UNION ALL SELECT t.person_id, i.mode, i.skill, 1 AS n, i.is_right AS r FROM ability_item i"
    " JOIN ability_test t ON t.id = i.test_id WHERE i.answered_ms > 0 AND t.person_id IN"
    " (SELECT person_id FROM member WHERE class_id = :d)) AS given"
    " GROUP BY person_id, mode, skill ORDER BY person_id, mode, skill";

}  // namespace

Status AbilityTests::start(const AbilityTestRecord& test) {
  const long long at = test.started_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO ability_test (id, person_id, seed, bank, started_ms, ended_ms, end_reason)"
           " VALUES (:i, :p, :s, :b, :t, 0, '')",
        soci::use(test.id), soci::use(test.person_id), soci::use(test.seed), soci::use(test.bank),
        soci::use(at);
    return {};
  });
}

Result<AbilityTestRecord> AbilityTests::find(std::string_view test_id, std::string_view person_id) {
  const std::string id(test_id), person(person_id);
  std::vector<AbilityTestRecord> found;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << std::string(kTestColumns) + "id = :i AND person_id = :p", soci::use(id),
         soci::use(person));
    for (const soci::row& row : rows) found.push_back(test_of(row));
    for (auto& one : found) read_items(sql, one);
    return {};
  }));
  if (found.empty()) return fail(ErrorCode::kNotFound, "there is no such ability test of yours");
  return std::move(found.front());
}

Result<std::vector<AbilityTestRecord>> AbilityTests::of_person(std::string_view person_id) {
  const std::string person(person_id);
  std::vector<AbilityTestRecord> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << std::string(kTestColumns) + "person_id = :p ORDER BY started_ms, id",
         soci::use(person));
    for (const soci::row& row : rows) list.push_back(test_of(row));
    for (auto& one : list) read_items(sql, one);
    return {};
  }));
  return list;
}

Status AbilityTests::ask(std::string_view test_id, std::size_t number,
                         const AbilityItemRecord& item) {
  const std::string test(test_id);
  const long long position = static_cast<long long>(number), kind = item.kind, at = item.asked_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    int count = 0;
    sql << "SELECT COUNT(*) FROM ability_item WHERE test_id = :t AND position = :n",
        soci::use(test), soci::use(position), soci::into(count);
    if (count > 0) return {};
    sql << "INSERT INTO ability_item (test_id, position, id, mode, skill, kind_position, detail,"
           " asked_ms, answered, is_right, answered_ms)"
           " VALUES (:t, :n, :i, :m, :s, :k, :d, :a, '', 0, 0)",
        soci::use(test), soci::use(position), soci::use(item.id), soci::use(item.mode),
        soci::use(item.skill), soci::use(kind), soci::use(item.detail), soci::use(at);
    return {};
  });
}

Status AbilityTests::answer(std::string_view test_id, const AbilityItemRecord& answered) {
  const std::string test(test_id);
  const long long right = answered.is_right ? 1 : 0, at = answered.answered_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE ability_item SET answered = :a, is_right = :r, answered_ms = :t"
           " WHERE test_id = :x AND id = :i AND answered_ms = 0",
        soci::use(answered.answered), soci::use(right), soci::use(at), soci::use(test),
        soci::use(answered.id);
    return {};
  });
}

Status AbilityTests::end(std::string_view test_id, std::string_view reason, std::int64_t now_ms) {
  const std::string test(test_id), why(reason);
  const long long at = now_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE ability_test SET ended_ms = :t, end_reason = :r WHERE id = :i AND ended_ms = 0",
        soci::use(at), soci::use(why), soci::use(test);
    return {};
  });
}

Result<std::vector<std::string>> AbilityTests::classes_of(std::string_view person_id) {
  const std::string person(person_id);
  std::vector<std::string> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT class_id FROM member WHERE person_id = :p UNION"
                        " SELECT class_id FROM class_staff WHERE person_id = :q ORDER BY class_id",
         soci::use(person), soci::use(person));
    for (const soci::row& row : rows) list.push_back(row.get<std::string>(0));
    return {};
  }));
  return list;
}

Result<std::vector<AnswerTally>> AbilityTests::tallies(const std::vector<std::string>& class_ids) {
  std::vector<AnswerTally> list;
  std::set<std::string> seen;  // who is in two of the classes counts once
  TRY(db_.transact([&](soci::session& sql) -> Status {
    for (const std::string& id : class_ids) {
      const soci::rowset<soci::row> rows = (sql.prepare << kTallies, soci::use(id), soci::use(id));
      std::set<std::string> here;
      for (const soci::row& row : rows) {
        const auto person = row.get<std::string>(0);
        here.insert(person);
        if (seen.contains(person)) continue;
        list.push_back({person, row.get<std::string>(1), row.get<std::string>(2), count_of(row, 3),
                        count_of(row, 4)});
      }
      seen.merge(here);
    }
    return {};
  }));
  return list;
}

}  // namespace phren::records
