// Encounters: beginning, acting, ending, and the log.
#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"
#include "bedside/log_text.h"
#include "bedside/plausible.h"
#include "records/marks.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::ClassRole;
using records::EncounterInfo;
using records::StationState;

constexpr std::size_t kMostActionsAtOnce = 200;
// Clocks differ a little and networks wait; more than this ahead is no honest time.
constexpr double kClockSlack_s = 10.0;
// Nor is an honest time at a station far behind the clock: a phone may be off the network or asleep
// for some minutes (the patient's time stands still in a page that sleeps), but nobody may write
// down now what he claims to have done long ago, nor much later than the time limit (ENGINEERING).
constexpr double kMostLag_s = 900.0;
constexpr double kGraceAfterLimit_s = 300.0;
constexpr double kNotedLag_s = 60.0;  // from here on staff find it in the audit log
constexpr std::int64_t kGraceAfterClosing_ms = 60'000;
// Replay of practice takes its time from the marks of stations' learners.
constexpr double kLongestPractice_s = 3600.0;
constexpr std::size_t kMostWaitingPractice = 10;

std::uint64_t random_seed() {
  return std::strtoull(records::random_id().substr(0, 12).c_str(), nullptr, 16);
}

// This learner's time limit with the extra time; 0: none.
double limit_of(Desk& desk, const EncounterInfo& info, const StationPlan& plan) {
  const auto member = records::Classes(desk.db).member(info.class_id, info.person_id);
  return plan.time_limit_s * (1.0 + (member ? member->extra_time_share : 0.0));
}

json encounter_json(const Office& office, Desk& desk, const EncounterInfo& info) {
  const auto progress = need(records::Encounters(desk.db).progress(info.id));
  json patient = patient_json(need(office.library->get(info.case_id)));
  patient["told"] = json::array();  // it lies in the packet; who asks is answered
  if (!info.station_id.empty()) patient.erase("id");
  json out{
      {"id", info.id},
      {"station_id", info.station_id},
      {"seed", std::to_string(info.seed)},
      {"started_ms", info.created_ms},
      {"now_ms", desk.now_ms},
      {"time_limit_s", 0.0},
      {"ends_ms", 0},
      {"has_ended", info.ended_ms > 0},
      {"is_released", info.station_id.empty() || info.station_state == StationState::kReleased},
      {"actions", progress.actions},
      {"last_t", progress.last_time_s},
      {"instructions", ""},
      {"shows_words", true},
      {"patient", std::move(patient)}};
  if (info.station_id.empty()) return out;
  const auto plan = need(plan_of(need(records::Stations(desk.db).find(info.station_id))));
  const double limit_s = limit_of(desk, info, plan);
  out["time_limit_s"] = limit_s;
  out["ends_ms"] = limit_s > 0.0 ? info.created_ms + std::llround(limit_s * 1000.0) : 0;
  out["instructions"] = plan.instructions;
  out["shows_words"] = plan.shows_words;
  return out;
}

EncounterInfo begin(Desk& desk, const Caller& caller, const std::string& station_id,
                    const std::string& case_id, std::uint64_t seed) {
  bedside::EncounterHeader header;
  header.encounter_id = records::random_id();
  header.case_id = case_id;
  header.seed = seed;
  header.engine = PHREN_VERSION;
  records::Encounters encounters(desk.db);
  need(encounters.start(caller.person().id, station_id, header, desk.now_ms));
  return need(encounters.info(header.encounter_id));
}

Response begin_at_station(const Office& office, Desk& desk, const Caller& caller,
                          const std::string& station_id) {
  const auto station = need(records::Stations(desk.db).find(station_id));
  const ClassRole role = role_of(desk, caller, station.class_id);
  if (role == ClassRole::kNone) {
    refuse(404, "not found", "there is no such station, or it is not yours", station.class_id);
  }
  if (role != ClassRole::kLearner) {
    refuse(403, "not allowed", "instructors and examiners do not sit their own station",
           station.class_id);
  }
  if (!caller.session.class_id.empty() && caller.session.station_id != station_id) {
    refuse(403, "another station", "join this station by its own code first", station.class_id);
  }
  records::Encounters encounters(desk.db);
  if (auto earlier = need(encounters.of_person_at(caller.person().id, station_id))) {
    return json_answer(encounter_json(office, desk, *earlier));
  }
  if (station.state != StationState::kOpen) {
    refuse(409, "closed", "this station is not open", station.class_id);
  }
  const StationPlan plan = need(plan_of(station));
  const bool is_parallel = plan.patients == "parallel";
  const std::size_t turn =
      is_parallel ? need(encounters.of_station(station_id)).size() % plan.case_ids.size() : 0;
  const auto info = begin(desk, caller, station_id, plan.case_ids[turn],
                          is_parallel ? random_seed() : station.seed);
  return json_answer(encounter_json(office, desk, info), 201);
}

// Nobody's practice may fill the marker's queue.
void check_waiting_practice(Desk& desk, const Caller& caller) {
  const auto all = need(records::Encounters(desk.db).all_of_person(caller.person().id));
  std::size_t waiting = 0;
  for (auto one = all.rbegin(); one != all.rend() && waiting < kMostWaitingPractice; ++one) {
    if (!one->station_id.empty() || one->ended_ms == 0) continue;
    if (need(records::Marks(desk.db).replayed(one->id))) return;
    ++waiting;
  }
  if (waiting == kMostWaitingPractice) {
    refuse(429, "too much waiting",
           "your last 10 practice encounters still wait to be marked; go on when they are");
  }
}

Response begin_practice(const Office& office, Desk& desk, const Caller& caller, const json& body) {
  // A drawn one has many spellings; its own id is the one that counts.
  const std::string case_id = need(office.library->get(text_field(body, "case_id", 200))).id;
  if (office.cases_in_use->has(teaching::split_case_id(case_id).base_id) && !is_teaching(caller)) {
    refuse(403, "in use", "this case is in a station now; it can be practised afterwards");
  }
  check_waiting_practice(desk, caller);
  std::uint64_t seed = random_seed();
  if (body.contains("seed")) {
    const std::string text = text_field(body, "seed", 20);
    if (text.find_first_not_of("0123456789") != std::string::npos) {
      refuse(422, "wrong value", "seed must be a whole number below 2^64, as text");
    }
    seed = std::strtoull(text.c_str(), nullptr, 10);
  }
  return json_answer(encounter_json(office, desk, begin(desk, caller, "", case_id, seed)), 201);
}

Response begin_any(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  const json body = body_of(request);
  if (!body.contains("station_id")) return begin_practice(office, desk, caller, body);
  if (body.contains("case_id") || body.contains("seed")) {
    refuse(422, "wrong value", "at a station the server deals case and seed");
  }
  return begin_at_station(office, desk, caller, text_field(body, "station_id", 64));
}

double seconds_since_start(const EncounterInfo& info, std::int64_t at_ms) {
  return static_cast<double>(at_ms - info.created_ms) / 1000.0;
}

// Up to which encounter time the clock allows actions now. Practice may let minutes pass at once.
double latest_of(const EncounterInfo& info, Desk& desk) {
  if (info.station_id.empty()) return bedside::kLongestEncounter_s;
  std::int64_t until_ms = desk.now_ms;
  if (info.station_state == StationState::kClosed) {
    const auto station = need(records::Stations(desk.db).find(info.station_id));
    if (desk.now_ms > station.closed_ms + kGraceAfterClosing_ms) {
      refuse(409, "closed", "this station was closed more than 60 s ago: nothing can be added",
             info.class_id);
    }
    until_ms = std::min(until_ms, station.closed_ms);
  }
  return seconds_since_start(info, until_ms) + kClockSlack_s;
}

// What could not be replayed later is not taken now.
void need_known_treatments(const Office& office,
                           const std::vector<bedside::EncounterAction>& actions) {
  for (const auto& action : actions) {
    if (bedside::is_steering(action.deed)) {
      refuse(422, "wrong value",
             "action " + action.id + ": only whoever leads a round changes the illness");
    }
    const auto* treat = std::get_if<bedside::Treat>(&action.deed);
    const auto* stop = std::get_if<bedside::StopTreatment>(&action.deed);
    if (treat == nullptr && stop == nullptr) continue;
    const auto known =
        office.library->treatments.index_of(treat ? treat->treatment_id : stop->treatment_id);
    if (!known) refuse(422, "wrong value", "action " + action.id + ": " + known.error().message);
  }
}

// What no hands can have done is not taken; what was taken before is not judged again.
void need_possible(records::Encounters& encounters, const std::string& id,
                   const std::vector<bedside::EncounterAction>& actions,
                   const std::string& class_id) {
  constexpr int kEnough = 24;
  const auto recent = need(encounters.recent(id, kEnough));
  std::vector<bedside::EncounterAction> fresh;
  for (const auto& action : actions) {
    const bool is_known = std::any_of(recent.begin(), recent.end(),
                                      [&](const auto& one) { return one.id == action.id; });
    const bool is_behind = !recent.empty() && action.time_s < recent.back().time_s;
    if (!is_known && !is_behind) fresh.push_back(action);
  }
  need(bedside::check_possible(recent, fresh), class_id);
}

// How much of an encounter's time the server was not there to be sent anything: nobody's fault.
double excused_s(const Office& office, const EncounterInfo& info) {
  const OfficeOptions& options = office.options;
  return info.created_ms < options.began_ms ? static_cast<double>(options.gap_ms) / 1000.0 : 0.0;
}

// Before which encounter time nothing new is taken now that claims `lag_s` behind the clock.
double earliest_of(const EncounterInfo& info, Desk& desk, double now_s, double lag_s) {
  if (info.station_id.empty()) return 0.0;
  if (lag_s > kNotedLag_s) {
    const auto plan = need(plan_of(need(records::Stations(desk.db).find(info.station_id))));
    const double limit_s = limit_of(desk, info, plan);
    if (limit_s > 0.0 && now_s > limit_s + kGraceAfterLimit_s) return bedside::kLongestEncounter_s;
  }
  return now_s - kMostLag_s;
}

Response append(const Office& office, Desk& desk, const Caller& caller, const std::string& id,
                const std::vector<bedside::EncounterAction>& actions, const std::string& claim) {
  records::Encounters encounters(desk.db);
  const auto info = encounters.info(id);
  if (!info && info.error().code != ErrorCode::kNotFound) refuse(info.error());
  const bool is_own =
      info && info->person_id == caller.person().id && reaches(caller, info->class_id);
  if (!is_own) {  // what state another's is in is nobody's business
    refuse(404, "not found", "encounter '" + id + "' is not among those you may see",
           info ? info->class_id : std::string());
  }
  const bool is_at_station = !info->station_id.empty();
  if (is_at_station && info->station_state == StationState::kReleased) {
    refuse(409, "released", "the results are out: nothing can be added", info->class_id);
  }
  if (!is_at_station && !actions.empty() && actions.back().time_s > kLongestPractice_s) {
    refuse(422, "too long", "practice lasts at most 3600 s (an hour); begin it anew to go on");
  }
  need_known_treatments(office, actions);
  if (is_at_station) need_possible(encounters, id, actions, info->class_id);
  const double now_s = seconds_since_start(*info, desk.now_ms) - excused_s(office, *info);
  const double lag_s = actions.empty() ? 0.0 : now_s - actions.front().time_s;
  const double latest_s = latest_of(*info, desk);
  if (is_at_station && info->station_state == StationState::kOpen && !actions.empty() &&
      actions.back().time_s > latest_s) {
    // The same will be right when the clock has come so far, so it is not refused for good.
    refuse(
        {ErrorCode::kIo, "this is ahead of the clock of the class: send it again a little later"},
        info->class_id);
  }
  auto appended = encounters.append(caller.person().id, id, actions, desk.now_ms, latest_s, claim,
                                    earliest_of(*info, desk, now_s, lag_s));
  if (!appended && (appended.error().code == ErrorCode::kConflict ||
                    appended.error().code == ErrorCode::kTooMany)) {
    refuse(409, "too late", appended.error().message, info->class_id);
  }
  const auto done = need(std::move(appended), info->class_id);
  if (is_at_station && done.stored > 0 && lag_s > kNotedLag_s) {
    need(records::note_audit(
        desk.db, {desk.now_ms, info->person_id, "late_actions", id,
                  std::to_string(std::llround(lag_s)) + " s after the time that was claimed",
                  info->class_id}));
  }
  const bool has_ended =
      !actions.empty() && std::holds_alternative<bedside::End>(actions.back().deed);
  if (has_ended) desk.once_kept([bell = office.marker_bell] { bell->ring(); });
  return json_answer({{"stored", done.stored}, {"repeated", done.repeated}, {"total", done.total}});
}

bedside::EncounterAction action_of(const json& one) {
  if (!one.is_object()) refuse(422, "wrong value", "each action must be an object");
  return need(bedside::parse_action(one.dump()));
}

Response act(const Office& office, Desk& desk, const Caller& caller, const Request& request,
             const std::string& id) {
  const json body = body_of(request);
  const auto list = body.find("actions");
  if (list == body.end() || !list->is_array() || list->empty() ||
      list->size() > kMostActionsAtOnce) {
    refuse(422, "wrong value", "actions must be a list of 1 to 200 actions");
  }
  std::vector<bedside::EncounterAction> actions;
  for (const json& one : *list) actions.push_back(action_of(one));
  return append(office, desk, caller, id, actions, "");
}

Response end(const Office& office, Desk& desk, const Caller& caller, const Request& request,
             const std::string& id) {
  const json body = body_of(request);
  json action{{"do", "end"}};
  for (const char* field : {"id", "t"}) {
    if (body.contains(field)) action[field] = body[field];
  }
  std::string claim;
  if (const auto found = body.find("claim"); found != body.end() && !found->is_null()) {
    claim = found->dump();
    if (!found->is_object() || claim.size() > 1000) {
      refuse(422, "wrong value", "claim must be an object of at most 1000 bytes");
    }
  }
  return append(office, desk, caller, id, {action_of(action)}, claim);
}

Response log(Desk& desk, const Caller& caller, const std::string& id) {
  records::Encounters encounters(desk.db);
  const auto seen = need_encounter(desk, caller, id);
  bedside::EncounterLog all = need(encounters.log(id));
  const bool is_hidden = !seen.info.station_id.empty() && !records::is_staff(seen.role) &&
                         seen.info.station_state != StationState::kReleased;
  if (is_hidden) all.header.case_id = "withheld";  // its name may say what is wrong
  Response response;
  response.content_type = "application/x-ndjson";
  response.body = bedside::to_text(all);
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

}  // namespace

void add_encounter_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/encounters";
  table.add(for_callers(
      office, {"POST", path},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues&) {
        return begin_any(*office, desk, caller, request);
      }));
  table.add(for_callers(
      office, {"GET", path + "/{id}"},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        const auto seen = need_encounter(desk, caller, values.at("id"));
        return json_answer(encounter_json(*office, desk, seen.info));
      }));
  table.add(for_callers(
      office, {"GET", path + "/{id}/config"},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        const auto seen = need_encounter(desk, caller, values.at("id"));
        const teaching::Library& library = *office->library;
        const auto prepared = need(library.get(seen.info.case_id));
        const bool is_exam = !seen.info.station_id.empty();
        Response response =
            is_exam ? keyed_config_response(prepared, library) : config_response(prepared, library);
        response.headers = {{"Cache-Control", "no-store"}};
        return response;
      }));
  table.add(for_callers(
      office, {"POST", path + "/{id}/actions"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return act(*office, desk, caller, request, values.at("id"));
      }));
  table.add(for_callers(
      office, {"POST", path + "/{id}/end"},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return end(*office, desk, caller, request, values.at("id"));
      }));
  table.add(
      for_callers(office, {"GET", path + "/{id}/log", Lane::kWork},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    return log(desk, caller, values.at("id"));
                  }));
}

}  // namespace phren::app::server
