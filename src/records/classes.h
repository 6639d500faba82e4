// Classes: who teaches and examines them, who is on the roll, and who may do what there.
//
// Errors:  kNotFound for a class that is not there; kInvalidArgument names the field.
// Rules:   what a person may do is decided by the class, never by the person alone.
#pragma once

#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/handover/csv.h"
#include "records/people.h"

namespace phren::records {

enum class ClassRole { kNone, kLearner, kExaminer, kInstructor };
std::string_view to_string(ClassRole role);
constexpr bool is_staff(ClassRole role) {
  return role == ClassRole::kExaminer || role == ClassRole::kInstructor;
}

struct ClassInfo {
  std::string id, title, join_code;
};
struct ClassOverview {
  ClassInfo info;
  ClassRole my_role = ClassRole::kNone;
  int members = 0;
  int stations = 0;
};
struct Member {
  Person person;
  std::string key;  // shown to who comes with it at joining
  double extra_time_share = 0.0;
};
struct StaffMember {
  Person person;
  ClassRole role = ClassRole::kExaminer;
};
// What a class practises, as JSON text; empty: everything.
struct ClassDrill {
  std::string title, rules;
};
struct RosterChange {
  int added = 0, changed = 0, total = 0;
};

class Classes {
 public:
  explicit Classes(Database& database) : db_(database) {}

  Result<ClassInfo> create(std::string_view title, const Person& instructor, std::int64_t now_ms);
  Result<ClassInfo> find(std::string_view class_id);
  Result<ClassInfo> find_code(std::string_view join_code);
  Result<ClassRole> role_in(std::string_view class_id, std::string_view person_id);
  Result<std::vector<ClassOverview>> of_person(std::string_view person_id);

  Result<std::vector<StaffMember>> staff(std::string_view class_id);
  Status set_staff(std::string_view class_id, std::string_view person_id, ClassRole role,
                   std::string_view actor_id, std::int64_t now_ms);
  // Refused for the last instructor.
  Status remove_staff(std::string_view class_id, std::string_view person_id,
                      std::string_view actor_id, std::int64_t now_ms);

  Result<std::vector<Member>> members(std::string_view class_id);
  Result<Member> member(std::string_view class_id, std::string_view person_id);
  Result<Member> member_by_key(std::string_view class_id, std::string_view key);
  // Adds who is new, changes names and extra time of who is there; takes nobody off. All or
  // nothing. A login of someone outside the actor's own classes is refused.
  Result<RosterChange> merge_roster(std::string_view class_id,
                                    const std::vector<RosterEntry>& entries,
                                    std::string_view actor_id, std::int64_t now_ms);
  // Ids of those who have joined the station (or the class, when it is empty) and not left.
  Result<std::set<std::string>> joined(std::string_view class_id, std::string_view station_id);
  // How many guests have joined the station so far.
  Result<int> guests(std::string_view class_id, std::string_view station_id);
  Result<Member> add_guest(std::string_view class_id, std::string_view name, std::int64_t now_ms);
  Status remove_member(std::string_view class_id, std::string_view person_id,
                       std::string_view actor_id, std::int64_t now_ms);
  Result<ClassDrill> drill(std::string_view class_id);
  Status set_drill(std::string_view class_id, std::string_view rules, std::string_view actor_id,
                   std::int64_t now_ms);
  // Of the classes that the person learns in; only that one when `class_id` is not empty.
  Result<std::vector<ClassDrill>> drills_of(std::string_view person_id, std::string_view class_id);
  // True when every class that the person is on the roll of is taught by the instructor, and there
  // is at least one.
  Result<bool> answers_for(std::string_view instructor_id, std::string_view person_id);

 private:
  Database& db_;
};

}  // namespace phren::records
