#include "records/classes.h"

#include <soci/soci.h>

#include <cstdlib>

namespace phren::records {
namespace {

constexpr std::size_t kClassCodeSigns = 6;

ClassRole role_of_word(std::string_view word) {
  return word == "instructor" ? ClassRole::kInstructor
         : word == "examiner" ? ClassRole::kExaminer
                              : ClassRole::kNone;
}

Error no_class() {
  return {ErrorCode::kNotFound, "there is no such class, or it is not yours"};
}

Result<ClassInfo> find_by(Database& db, const char* column, const std::string& value) {
  ClassInfo info;
  bool found = false;
  TRY(db.transact([&](soci::session& sql) -> Status {
    sql << std::string("SELECT id, title, join_code FROM class_group WHERE ") + column + " = :v",
        soci::use(value), soci::into(info.id), soci::into(info.title), soci::into(info.join_code);
    found = sql.got_data();
    return {};
  }));
  if (!found) return fail(no_class());
  return info;
}

}  // namespace

std::string_view to_string(ClassRole role) {
  switch (role) {
    case ClassRole::kInstructor:
      return "instructor";
    case ClassRole::kExaminer:
      return "examiner";
    case ClassRole::kLearner:
      return "learner";
    case ClassRole::kNone:
      return "none";
  }
  return "none";
}

Result<ClassInfo> Classes::create(std::string_view title, const Person& instructor,
                                  std::int64_t now_ms) {
  if (title.empty() || title.size() > 200) {
    return fail(
        out_of_range("length of title", static_cast<double>(title.size()), "1 to 200 bytes"));
  }
  const ClassInfo info{random_id(), std::string(title), new_code(kClassCodeSigns)};
  const long long now = now_ms;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO class_group (id, title, instructor_id, created_ms, join_code)"
           " VALUES (:i, :t, :p, :c, :j)",
        soci::use(info.id), soci::use(info.title), soci::use(instructor.id), soci::use(now),
        soci::use(info.join_code);
    sql << "INSERT INTO class_staff (class_id, person_id, role) VALUES (:c, :p, 'instructor')",
        soci::use(info.id), soci::use(instructor.id);
    insert_audit(sql, {now_ms, instructor.id, "class_created", info.id, "", info.id});
    return {};
  }));
  return info;
}

Result<ClassInfo> Classes::find(std::string_view class_id) {
  return find_by(db_, "id", std::string(class_id));
}

Result<ClassInfo> Classes::find_code(std::string_view join_code) {
  if (join_code.empty()) return fail(no_class());
  return find_by(db_, "join_code", std::string(join_code));
}

Result<ClassRole> Classes::role_in(std::string_view class_id, std::string_view person_id) {
  const std::string id(class_id), person(person_id);
  ClassRole role = ClassRole::kNone;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    std::string word;
    sql << "SELECT role FROM class_staff WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person), soci::into(word);
    if (sql.got_data()) {
      role = role_of_word(word);
      return {};
    }
    int count = 0;
    sql << "SELECT COUNT(*) FROM member WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person), soci::into(count);
    if (count > 0) role = ClassRole::kLearner;
    return {};
  }));
  return role;
}

Result<std::vector<ClassOverview>> Classes::of_person(std::string_view person_id) {
  const std::string person(person_id);
  std::vector<ClassOverview> list;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT g.id, g.title, g.join_code, COALESCE(s.role, 'learner'),"
                        " (SELECT COUNT(*) FROM member m WHERE m.class_id = g.id),"
                        " (SELECT COUNT(*) FROM station t WHERE t.class_id = g.id)"
                        " FROM class_group g LEFT JOIN class_staff s ON s.class_id = g.id AND"
                        " s.person_id = :p WHERE s.person_id IS NOT NULL OR EXISTS (SELECT 1 FROM"
                        " member m WHERE m.class_id = g.id AND m.person_id = :q)"
                        " ORDER BY g.created_ms DESC, g.id",
         soci::use(person), soci::use(person));
    for (const soci::row& row : rows) {
      const auto word = row.get<std::string>(3);
      list.push_back({{row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2)},
                      word == "learner" ? ClassRole::kLearner : role_of_word(word),
                      static_cast<int>(count_of(row, 4)),
                      static_cast<int>(count_of(row, 5))});
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return list;
}

Result<std::vector<StaffMember>> Classes::staff(std::string_view class_id) {
  const std::string id(class_id);
  std::vector<StaffMember> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare
             << "SELECT p.id, p.login, p.name, p.role, s.role FROM class_staff s JOIN person"
                " p ON p.id = s.person_id WHERE s.class_id = :c ORDER BY p.name, p.id",
         soci::use(id));
    for (const soci::row& row : rows) {
      list.push_back({{row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
                       parse_role(row.get<std::string>(3)).value_or(Role::kLearner)},
                      role_of_word(row.get<std::string>(4))});
    }
    return {};
  }));
  return list;
}

Status Classes::set_staff(std::string_view class_id, std::string_view person_id, ClassRole role,
                          std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(class_id), person(person_id), word(to_string(role));
  return db_.transact([&](soci::session& sql) -> Status {
    std::string was;
    sql << "SELECT role FROM class_staff WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person), soci::into(was);
    sql << "DELETE FROM class_staff WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person);
    sql << "INSERT INTO class_staff (class_id, person_id, role) VALUES (:c, :p, :r)", soci::use(id),
        soci::use(person), soci::use(word);
    insert_audit(sql, {now_ms, std::string(actor_id), "staff_set", person, word, id, was, word});
    return {};
  });
}

Status Classes::remove_staff(std::string_view class_id, std::string_view person_id,
                             std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(class_id), person(person_id);
  return db_.transact([&](soci::session& sql) -> Status {
    std::string was;
    sql << "SELECT role FROM class_staff WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person), soci::into(was);
    if (!sql.got_data()) {
      return fail(ErrorCode::kNotFound, "there is no such person on the staff of the class");
    }
    int others = 0;
    sql << "SELECT COUNT(*) FROM class_staff WHERE class_id = :c AND person_id <> :p AND role ="
           " 'instructor'",
        soci::use(id), soci::use(person), soci::into(others);
    if (others == 0) {
      return fail(out_of_range("other instructors of the class", others,
                               "at least 1; make someone else an instructor first"));
    }
    // Who made the class is no longer bound to it, and can be forgotten.
    sql << "UPDATE class_group SET instructor_id = (SELECT MIN(person_id) FROM class_staff WHERE"
           " class_id = :c AND person_id <> :p AND role = 'instructor')"
           " WHERE id = :d AND instructor_id = :q",
        soci::use(id), soci::use(person), soci::use(id), soci::use(person);
    sql << "DELETE FROM class_staff WHERE class_id = :c AND person_id = :p", soci::use(id),
        soci::use(person);
    insert_audit(sql, {now_ms, std::string(actor_id), "staff_removed", person, "", id, was, ""});
    return {};
  });
}

Result<bool> Classes::answers_for(std::string_view instructor_id, std::string_view person_id) {
  const std::string instructor(instructor_id), person(person_id);
  int all = 0, own = 0;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT COUNT(*), COUNT(s.person_id) FROM member m LEFT JOIN class_staff s ON s.class_id"
           " = m.class_id AND s.person_id = :i AND s.role = 'instructor' WHERE m.person_id = :p",
        soci::use(instructor), soci::use(person), soci::into(all), soci::into(own);
    return {};
  }));
  return all > 0 && all == own;
}

Result<ClassDrill> Classes::drill(std::string_view class_id) {
  const std::string id(class_id);
  ClassDrill found;
  bool is_there = false;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT title, drill FROM class_group WHERE id = :c", soci::use(id),
        soci::into(found.title), soci::into(found.rules);
    is_there = sql.got_data();
    return {};
  }));
  if (!is_there) return fail(no_class());
  return found;
}

Status Classes::set_drill(std::string_view class_id, std::string_view rules,
                          std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(class_id), text(rules);
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE class_group SET drill = :d WHERE id = :c", soci::use(text), soci::use(id);
    insert_audit(sql, {now_ms, std::string(actor_id), "drill_set", id, text, id});
    return {};
  });
}

Result<std::vector<ClassDrill>> Classes::drills_of(std::string_view person_id,
                                                   std::string_view class_id) {
  const std::string person(person_id), only(class_id);
  std::vector<ClassDrill> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT g.title, g.drill FROM class_group g JOIN member m ON m.class_id ="
                        " g.id WHERE m.person_id = :p AND (:c = '' OR g.id = :d)"
                        " ORDER BY g.created_ms, g.id",
         soci::use(person), soci::use(only), soci::use(only));
    for (const soci::row& row : rows) {
      list.push_back({row.get<std::string>(0), row.get<std::string>(1)});
    }
    return {};
  }));
  return list;
}

}  // namespace phren::records
