// The live board: where each learner of a station stands.
#include <cmath>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"
#include "app/server/api/results.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

json absent_row(const records::Member& member) {
  return {{"person_id", member.person.id},
          {"name", member.person.name},
          {"case_id", ""},
          {"encounter_id", ""},
          {"phase", "absent"},
          {"started_ms", 0},
          {"ends_ms", 0},
          {"time_s", 0.0},
          {"actions", 0},
          {"last_action", ""},
          {"heard_ms", 0},
          {"examiner_marks", 0},
          {"points", nullptr},
          {"max_points", nullptr},
          {"passed", nullptr}};
}

void add_encounter(const Office& office, Desk& desk, const records::EncounterInfo& info,
                   double limit_s, json& row) {
  const auto progress = need(records::Encounters(desk.db).progress(info.id));
  row["case_id"] = info.case_id;
  row["encounter_id"] = info.id;
  row["phase"] = info.ended_ms > 0 ? "ended" : "under_way";
  row["started_ms"] = info.created_ms;
  row["ends_ms"] = limit_s > 0.0 ? info.created_ms + std::llround(limit_s * 1000.0) : 0;
  row["time_s"] = progress.last_time_s;
  row["actions"] = progress.actions;
  row["last_action"] = progress.last_deed;
  row["heard_ms"] = progress.actions > 0 ? progress.last_stored_ms : info.created_ms;
  row["examiner_marks"] = need(records::Marks(desk.db).of_encounter(info.id)).size();
  if (info.ended_ms == 0) return;
  try {
    if (const auto result = result_of(office, desk, info)) {
      row["phase"] = "marked";
      row["points"] = result->joined.sheet.points;
      row["max_points"] = result->joined.sheet.max_points;
      row["passed"] = result->joined.sheet.passed;
    }
  } catch (const Refused&) {
    row["last_action"] = "cannot be replayed";
  }
}

Response board(const Office& office, Desk& desk, const Caller& caller, const std::string& id) {
  const records::Station station = need_station(desk, caller, id);
  const StationPlan plan = need(plan_of(station));
  std::map<std::string, records::EncounterInfo> met;
  for (auto& info : need(records::Encounters(desk.db).of_station(id))) met[info.person_id] = info;
  const auto joined = need(records::Classes(desk.db).joined(station.class_id, id));
  json learners = json::array();
  for (const auto& member : need(records::Classes(desk.db).members(station.class_id))) {
    json row = absent_row(member);
    if (joined.count(member.person.id) > 0) row["phase"] = "joined";
    if (const auto found = met.find(member.person.id); found != met.end()) {
      add_encounter(office, desk, found->second,
                    plan.time_limit_s * (1.0 + member.extra_time_share), row);
    }
    learners.push_back(std::move(row));
  }
  return json_answer({{"state", records::to_string(station.state)},
                      {"now_ms", desk.now_ms},
                      {"learners", std::move(learners)}});
}

}  // namespace

void add_board_routes(RouteTable& table, const OfficePtr& office) {
  table.add(for_callers(
      office, {"GET", "/api/v1/stations/{id}/board", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return board(*office, desk, caller, values.at("id"));
      }));
}

}  // namespace phren::app::server
