// Stations: planning, opening and closing, and the way in for learners.
#include <algorithm>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"
#include "base/json_fields.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::StationState;

Response station_answer(const records::Station& station, int status = 200) {
  json out = json_of(need(plan_of(station), station.class_id));
  out["id"] = station.id;
  out["class_id"] = station.class_id;
  out["state"] = records::to_string(station.state);
  out["join_code"] = station.join_code;
  out["created_ms"] = station.created_ms;
  return json_answer(out, status);
}

void take_plan(records::Station& station, const StationPlan& plan) {
  station.title = plan.title;
  station.case_ids = plan.case_ids;
  station.checklist_id = plan.checklist.id;
  station.plan = json_of(plan).dump();
}

Response create(const OfficePtr& office, Desk& desk, const Caller& caller, const Request& request,
                const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  const StationPlan plan = need(parse_plan(body_of(request), *office->library), class_id);
  records::Station station;
  station.class_id = class_id;
  take_plan(station, plan);
  station =
      need(records::Stations(desk.db).create(std::move(station), caller.person().id, desk.now_ms),
           class_id);
  return station_answer(station, 201);
}

// Once learners may have begun, only what changes nobody's task: the title, the pass mark, words.
void need_same_task(const records::Station& station, StationPlan changed) {
  const StationPlan old = need(plan_of(station));
  changed.title = old.title;
  changed.instructions = old.instructions;
  changed.checklist.pass_share = old.checklist.pass_share;
  if (station.state == StationState::kReleased || changed != old) {
    refuse(409, "in use",
           "once a station was open only its title, its instructions and the pass mark can change, "
           "and after the release nothing: make a new station",
           station.class_id);
  }
}

Response change(const OfficePtr& office, Desk& desk, const Caller& caller, const Request& request,
                const std::string& id) {
  records::Station station = need_station(desk, caller, id, true);
  const StationPlan plan = need(parse_plan(body_of(request), *office->library), station.class_id);
  if (station.state != StationState::kDraft) need_same_task(station, plan);
  take_plan(station, plan);
  need(records::Stations(desk.db).update(station, caller.person().id, desk.now_ms));
  return station_answer(station);
}

Response set_state(const OfficePtr& office, Desk& desk, const Caller& caller,
                   const Request& request, const std::string& id) {
  records::Station station = need_station(desk, caller, id, true);
  const StationState state =
      need(records::parse_station_state(text_field(body_of(request), "state", 20)));
  if (!records::may_follow(station.state, state)) {
    refuse(409, "wrong order",
           "a station that is " + std::string(records::to_string(station.state)) +
               " cannot become " + std::string(records::to_string(state)),
           station.class_id);
  }
  records::Stations stations(desk.db);
  if (state == StationState::kReleased) {
    const double limit_s = need(plan_of(station), station.class_id).time_limit_s;
    need(records::Encounters(desk.db).end_all(station, limit_s, caller.person().id, desk.now_ms));
    desk.once_kept([bell = office->marker_bell] { bell->ring(); });
  }
  need(stations.set_state(id, state, caller.person().id, desk.now_ms));
  desk.once_kept([in_use = office->cases_in_use, cases = need(stations.cases_in_use())] {
    in_use->set(cases);
  });
  station.state = state;
  return station_answer(station);
}

Response qr(const OfficePtr& office, Desk& desk, const Caller& caller, const Request& request,
            const std::string& id) {
  const records::Station station = need_station(desk, caller, id);
  return qr_answer(request, places_for(*office, request, "join", station.join_code),
                   station.class_id);
}

Response checklists(const Office& office) {
  json out = json::array();
  for (const auto& one : office.library->checklists) out.push_back(json(json_of(one)));
  json rules = json::array();
  for (const teaching::RuleShape& rule : teaching::rule_shapes()) {
    rules.push_back({{"name", rule.name},
                     {"needs", rule.needs},
                     {"fields", rule.fields},
                     {"words", rule.words}});
  }
  return json_answer({{"checklists", std::move(out)}, {"rules", std::move(rules)}});
}

}  // namespace

void add_station_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/stations/{id}";
  table.add(for_callers(office, {"GET", "/api/v1/checklists"},
                        [office](Desk&, const Caller& caller, const Request&, const PathValues&) {
                          // What marks a learner is not shown to a learner who stands before it.
                          if (!is_teaching(caller)) {
                            refuse(403, "not allowed", "this is for instructors and examiners");
                          }
                          return checklists(*office);
                        }));
  table.add(for_callers(
      office, {"POST", "/api/v1/classes/{id}/stations"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return create(office, desk, caller, request, values.at("id"));
      }));
  table.add(
      for_callers(office, {"GET", path},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    return station_answer(need_station(desk, caller, values.at("id")));
                  }));
  table.add(for_callers(
      office, {"PUT", path},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return change(office, desk, caller, request, values.at("id"));
      }));
  table.add(for_callers(
      office, {"POST", path + "/state"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return set_state(office, desk, caller, request, values.at("id"));
      }));
  table.add(for_callers(
      office, {"GET", path + "/join"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        const records::Station station = need_station(desk, caller, values.at("id"));
        return json_answer(
            {{"code", station.join_code},
             {"addresses", places_for(*office, request, "join", station.join_code)}});
      }));
  table.add(for_callers(
      office, {"GET", path + "/qr"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return qr(office, desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
