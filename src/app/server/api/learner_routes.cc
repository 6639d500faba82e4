// One learner's page, as the learner or the staff see it, and the skills of a whole class.
#include "app/server/api/ability_view.h"
#include "app/server/api/classroom.h"
#include "app/server/api/drill_view.h"
#include "app/server/api/results.h"
#include "records/drills.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::StationState;

json encounter_row(const Office& office, Desk& desk, const records::EncounterInfo& info,
                   bool is_for_staff) {
  std::string title;
  if (!info.station_id.empty()) {
    const auto station = records::Stations(desk.db).find(info.station_id);
    title = station ? station->title : "";
  } else {
    title = need(office.library->get(info.case_id)).title;
  }
  const bool is_released = info.station_id.empty() || info.station_state == StationState::kReleased;
  json row{{"id", info.id},
           {"station_id", info.station_id},
           {"title", title},
           {"started_ms", info.created_ms},
           {"has_ended", info.ended_ms > 0},
           {"is_released", is_released},
           {"points", nullptr},
           {"max_points", nullptr},
           {"passed", nullptr}};
  if (info.ended_ms == 0 || (!is_released && !is_for_staff)) return row;
  try {
    if (const auto result = result_of(office, desk, info)) {
      row["points"] = result->joined.sheet.points;
      row["max_points"] = result->joined.sheet.max_points;
      row["passed"] = result->joined.sheet.passed;
    }
  } catch (const Refused&) {
    // Cannot be replayed; its own page says why.
  }
  return row;
}

// `class_id`: only encounters of that class, for its staff; empty: the learner's own view, as far
// as the session reaches.
Response learner(const Office& office, Desk& desk, const Caller& caller,
                 const records::Person& person, const std::string& class_id) {
  const auto answers = need(records::Drills(desk.db).answers(person.id));
  json encounters = json::array();
  for (const auto& info : need(records::Encounters(desk.db).all_of_person(person.id))) {
    if (!class_id.empty() && info.class_id != class_id) continue;
    if (!reaches(caller, info.class_id)) continue;
    if (!office.library->get(info.case_id)) continue;
    encounters.push_back(encounter_row(office, desk, info, !class_id.empty()));
  }
  json tests = json::array();
  for (const auto& one : need(records::AbilityTests(desk.db).of_person(person.id))) {
    tests.push_back(need(ability_row(one)));
  }
  return json_answer({{"person", {{"id", person.id}, {"name", person.name}}},
                      {"skills", standing_json(office, answers, desk.now_ms)},
                      {"confusion", confusion_json(office, answers)},
                      {"ability_tests", std::move(tests)},
                      {"encounters", std::move(encounters)}});
}

Response class_skills(const Office& office, Desk& desk, const Caller& caller,
                      const std::string& class_id) {
  need_staff(desk, caller, class_id);
  std::vector<teaching::PastAnswer> all;
  json learners = json::array();
  for (const auto& member : need(records::Classes(desk.db).members(class_id), class_id)) {
    auto answers = need(records::Drills(desk.db).answers(member.person.id));
    learners.push_back({{"person_id", member.person.id},
                        {"name", member.person.name},
                        {"skills", standing_json(office, answers, desk.now_ms)}});
    all.insert(all.end(), std::make_move_iterator(answers.begin()),
               std::make_move_iterator(answers.end()));
  }
  return json_answer(
      {{"learners", std::move(learners)}, {"confusion", confusion_json(office, all)}});
}

}  // namespace

void add_learner_routes(RouteTable& table, const OfficePtr& office) {
  table.add(
      for_callers(office, {"GET", "/api/v1/me", Lane::kWork},
                  [office](Desk& desk, const Caller& caller, const Request&, const PathValues&) {
                    return learner(*office, desk, caller, caller.person(), "");
                  }));
  table.add(for_callers(
      office, {"GET", "/api/v1/classes/{id}/members/{person}", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        const std::string& id = values.at("id");
        need_staff(desk, caller, id);
        const auto member = need(records::Classes(desk.db).member(id, values.at("person")), id);
        return learner(*office, desk, caller, member.person, id);
      }));
  table.add(for_callers(
      office, {"GET", "/api/v1/classes/{id}/skills", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return class_skills(*office, desk, caller, values.at("id"));
      }));
}

}  // namespace phren::app::server
