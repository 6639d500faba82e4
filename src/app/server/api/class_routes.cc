// Classes and those who teach them.
#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::ClassRole;

json member_json(const records::Member& member, bool with_key) {
  return {{"person_id", member.person.id},
          {"login", member.person.login},
          {"name", member.person.name},
          {"key", with_key ? member.key : ""},
          {"extra_time_percent", member.extra_time_share * 100.0}};
}

// Learners see the class and its stations only; staff for staff, keys for instructors: who has a
// learner's key can join as that learner.
Response class_answer(Desk& desk, const std::string& class_id, ClassRole role, int status = 200) {
  records::Classes classes(desk.db);
  const auto info = need(classes.find(class_id), class_id);
  const bool staff = records::is_staff(role);
  json out{{"id", info.id},
           {"title", info.title},
           {"join_code", staff ? info.join_code : ""},
           {"my_role", records::to_string(role)},
           {"staff", json::array()},
           {"members", json::array()},
           {"stations", json::array()}};
  for (const auto& station : need(records::Stations(desk.db).of_class(class_id), class_id)) {
    if (!staff && station.state == records::StationState::kDraft) continue;
    out["stations"].push_back({{"id", station.id},
                               {"title", station.title},
                               {"state", records::to_string(station.state)},
                               {"join_code", staff ? station.join_code : ""}});
  }
  if (staff) {
    for (const auto& one : need(classes.staff(class_id), class_id)) {
      out["staff"].push_back({{"person_id", one.person.id},
                              {"login", one.person.login},
                              {"name", one.person.name},
                              {"role", records::to_string(one.role)}});
    }
    for (const auto& one : need(classes.members(class_id), class_id)) {
      out["members"].push_back(member_json(one, role == ClassRole::kInstructor));
    }
  }
  return json_answer(out, status);
}

Response list(Desk& desk, const Caller& caller) {
  json out = json::array();
  for (const auto& one : need(records::Classes(desk.db).of_person(caller.person().id))) {
    if (!reaches(caller, one.info.id)) continue;
    out.push_back({{"id", one.info.id},
                   {"title", one.info.title},
                   {"my_role", records::to_string(one.my_role)},
                   {"members", one.members},
                   {"stations", one.stations}});
  }
  return json_answer({{"classes", std::move(out)}});
}

Response create(Desk& desk, const Caller& caller, const Request& request) {
  if (caller.person().role != records::Role::kInstructor || !caller.session.class_id.empty()) {
    refuse(403, "not allowed", "only instructors can make a class");
  }
  const json body = body_of(request);
  const auto made = need(
      records::Classes(desk.db).create(text_field(body, "title"), caller.person(), desk.now_ms));
  return class_answer(desk, made.id, ClassRole::kInstructor, 201);
}

Response add_staff(const OfficePtr& office, Desk& desk, const Caller& caller,
                   const Request& request, const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  const json body = body_of(request);
  const std::string login = text_field(body, "login", 64), word = text_field(body, "role", 20);
  if (word != "instructor" && word != "examiner") {
    refuse(422, "wrong value", "role must be instructor or examiner", class_id);
  }
  const auto role = word == "instructor" ? ClassRole::kInstructor : ClassRole::kExaminer;
  records::People people(desk.db, office->options.cost);
  auto person = people.find_login(login);
  if (person && (body.contains("password") || person->role == records::Role::kLearner)) {
    refuse(422, "wrong value", "login must be new, or that of an instructor or examiner", class_id);
  }
  if (!person) {
    person =
        people.add(login, text_field(body, "name"),
                   word == "instructor" ? records::Role::kInstructor : records::Role::kExaminer,
                   text_field(body, "password", 400), desk.now_ms);
  }
  const records::Person chosen = need(std::move(person), class_id);
  need(records::Classes(desk.db).set_staff(class_id, chosen.id, role, caller.person().id,
                                           desk.now_ms),
       class_id);
  return class_answer(desk, class_id, ClassRole::kInstructor);
}

json case_json(const teaching::Case& prepared, const teaching::Library& library) {
  json out = patient_json(prepared);
  out.update(truth_json(prepared, library));
  return out;
}

Response cases(const OfficePtr& office, Desk& desk, const Caller& caller,
               const std::string& class_id) {
  need_staff(desk, caller, class_id);
  json out = json::array();
  const teaching::Library& library = *office->library;
  for (const teaching::Case& prepared : library.cases) out.push_back(case_json(prepared, library));
  return json_answer({{"cases", std::move(out)}});
}

// What a line of the log is about, by name; ids say nothing to a reader. What was refused is an
// address and stays as it was asked for.
std::string name_of_subject(Desk& desk, const records::AuditEntry& entry) {
  if (entry.event == "refused" || entry.subject.empty()) return entry.subject;
  if (const auto station = records::Stations(desk.db).find(entry.subject)) return station->title;
  if (const auto room = records::Classes(desk.db).find(entry.subject)) return room->title;
  records::People people(desk.db);
  if (const auto person = people.find(entry.subject)) return person->name;
  if (const auto info = records::Encounters(desk.db).info(entry.subject)) {
    const auto learner = people.find(info->person_id);
    const auto station = records::Stations(desk.db).find(info->station_id);
    return (learner ? learner->name : "a deleted person") + (station ? ", " + station->title : "");
  }
  return "a deleted person";
}

Response audit(Desk& desk, const Caller& caller, const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  std::map<std::string, std::string> names, subjects;
  records::People people(desk.db);
  json out = json::array();
  for (const auto& entry : need(records::read_audit_of_class(desk.db, class_id, 1000))) {
    if (!entry.actor_id.empty() && names.count(entry.actor_id) == 0) {
      const auto person = people.find(entry.actor_id);
      names[entry.actor_id] = person ? person->name : "a deleted person";
    }
    const auto [about, is_new] = subjects.try_emplace(entry.subject);
    if (is_new) about->second = name_of_subject(desk, entry);
    out.push_back({{"at_ms", entry.at_ms},
                   {"actor", entry.actor_id.empty() ? "" : names[entry.actor_id]},
                   {"event", entry.event},
                   {"subject", entry.subject},
                   {"about", about->second},
                   {"detail", entry.detail}});
  }
  return json_answer({{"entries", std::move(out)}});
}

}  // namespace

void add_class_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/classes";
  table.add(for_callers(office, {"GET", path},
                        [](Desk& desk, const Caller& caller, const Request&, const PathValues&) {
                          return list(desk, caller);
                        }));
  table.add(for_callers(office, {"POST", path},
                        [](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return create(desk, caller, request); }));
  table.add(
      for_callers(office, {"GET", path + "/{id}"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const std::string& id = values.at("id");
                    return class_answer(desk, id, need_member(desk, caller, id));
                  }));
  table.add(for_callers(
      office, {"POST", path + "/{id}/staff", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return add_staff(office, desk, caller, request, values.at("id"));
      }));
  table.add(
      for_callers(office, {"DELETE", path + "/{id}/staff/{person}"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const std::string& id = values.at("id");
                    need_instructor(desk, caller, id);
                    need(records::Classes(desk.db).remove_staff(id, values.at("person"),
                                                                caller.person().id, desk.now_ms),
                         id);
                    return class_answer(desk, id, ClassRole::kInstructor);
                  }));
  table.add(for_callers(
      office, {"GET", path + "/{id}/cases"},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return cases(office, desk, caller, values.at("id"));
      }));
  table.add(
      for_callers(office, {"GET", path + "/{id}/audit", Lane::kWork},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    return audit(desk, caller, values.at("id"));
                  }));
}

}  // namespace phren::app::server
