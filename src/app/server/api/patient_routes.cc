// Patients that somebody builds: a case text is read, previewed and made a patient for anyone; kept in the
// instructor's own folder for those who teach (docs/case-format.md).
#include <nlohmann/json.hpp>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "base/files.h"
#include "bedside/stay_json.h"
#include "bedside/words.h"
#include "exam/names.h"
#include "teaching/expected.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using teaching::Case;

constexpr const char* kToml = "application/toml";

// null: as the condition has it.
json to_json(const patient::ConditionUse& use) {
  json out{{"id", use.id},    {"severity", use.severity},  {"side", nullptr},
           {"lobe", nullptr}, {"severity_later", nullptr}, {"change_over_min", nullptr}};
  if (use.side != exam::Side::kMidline) out["side"] = exam::to_string(use.side);
  if (use.lobe >= 0) out["lobe"] = exam::to_string(static_cast<exam::Lobe>(use.lobe));
  if (use.severity_later >= 0.0) {
    out["severity_later"] = use.severity_later;
    out["change_over_min"] = use.change_over_min;
  }
  return out;
}

json to_json(const patient::TreatmentUse& use) {
  json out{{"id", use.id}, {"side", nullptr}, {"minutes_before", use.minutes_before}};
  if (use.side != exam::Side::kMidline) out["side"] = exam::to_string(use.side);
  return out;
}

json told_json(const Case& one) {
  json out{{"present", json::array()},
           {"absent", json::array()},
           {"seen_present", json::array()},
           {"seen_absent", json::array()}};
  for (const exam::Finding& finding : one.told) {
    const bool is_there = finding.presence == exam::Presence::kPresent;
    const std::string key = std::string(finding.basis == exam::Basis::kSeen ? "seen_" : "") +
                            (is_there ? "present" : "absent");
    out[key].push_back(finding.id);
  }
  return out;
}

// Every field of the file, so that a page can write the same file again.
json draft_json(const Case& one) {
  json out = patient_json(one);
  out["told"] = told_json(one);
  out["teaching_points"] = one.teaching_points;
  out["minutes_before"] = one.patient.minutes_before;
  out["conditions"] = json::array();
  for (const auto& use : one.patient.conditions) out["conditions"].push_back(to_json(use));
  out["treatments"] = json::array();
  for (const auto& use : one.patient.treatments) out["treatments"].push_back(to_json(use));
  return out;
}

using TextHandler = std::function<Response(const Case&)>;

// A POST of a case text; nothing is kept of it.
Route text_route(const OfficePtr& office, std::string pattern, TextHandler answer) {
  Route route;
  route.method = "POST";
  route.pattern = std::move(pattern);
  route.body_type = kToml;
  route.max_body_bytes = teaching::kMostCase_bytes;
  route.lane = Lane::kSlow;
  route.handler = [office, answer = std::move(answer)](const Request& request, const PathValues&) {
    const auto& library = *office->library;
    const auto one = library.own->read(request.body, "patient.toml");
    if (!one) return problem(one.error());
    // What the body itself refuses is told at reading, not when the sound is wanted.
    const auto setup =
        teaching::setup_of(*one, library.conditions, library.treatments, library.instruments);
    return setup ? answer(*one) : problem(setup.error());
  };
  return route;
}

Response expected_of(const Case& one, const teaching::Library& library) {
  const auto setup =
      teaching::setup_of(one, library.conditions, library.treatments, library.instruments);
  if (!setup) return problem(setup.error());
  const auto heard = teaching::expected_at_sites(*setup, library.sites, Seed{1});
  if (!heard) return problem(heard.error());
  json places = json::array();
  for (const bedside::HeardAt& place : *heard) places.push_back(json(bedside::heard_json(place)));
  return json_response(json{{"places", std::move(places)}}.dump());
}

void need_teacher(const Caller& caller) {
  if (!is_teaching(caller)) {
    refuse(403, "for those who teach", "own patients are kept by instructors and examiners");
  }
}

// Marks are worked out from the patient again, so nobody changes one who is in a station.
void refuse_in_use(const Office& office, const std::string& id) {
  if (office.cases_in_use->has(id)) {
    refuse(409, "in use", "a station uses this patient; release it first, or choose another name");
  }
}

json list_json(const teaching::Library& library) {
  json patients = json::array(), troubles = json::array();
  for (const teaching::ListedCase& one : library.own->list()) {
    if (one.loaded) {
      patients.push_back(summary_json(*one.loaded));
    } else {
      troubles.push_back(one.file.filename().string() + ": " + one.loaded.error().message);
    }
  }
  return {{"patients", std::move(patients)}, {"troubles", std::move(troubles)}};
}

Response kept_answer(const json& body) {
  Response response = json_answer(body);
  response.headers.push_back({"Cache-Control", "no-store"});
  return response;
}

void add_kept(RouteTable& table, const OfficePtr& office) {
  const auto library = office->library;
  table.add(for_callers(office, {"GET", "/api/v1/patients"},
                        [library](Desk&, const Caller& caller, const Request&, const PathValues&) {
                          need_teacher(caller);
                          return kept_answer(list_json(*library));
                        }));
  table.add(for_callers(
      office, {"GET", "/api/v1/patients/{id}"},
      [office](Desk&, const Caller& caller, const Request&, const PathValues& values) {
        need_teacher(caller);
        const teaching::Library& known = *office->library;
        const std::string& id = values.at("id");
        Response response;
        response.content_type = kToml;
        // A prepared one's file is there to be copied.
        response.body =
            need(known.find(id) == nullptr ? known.own->text(id)
                                           : read_file(office->data / "cases" / (id + ".toml")));
        response.headers = {{"Cache-Control", "no-store"}};
        return response;
      }));
  table.add(for_callers(
      office, {"PUT", "/api/v1/patients/{id}", Lane::kStore, kToml},
      [office](Desk&, const Caller& caller, const Request& request, const PathValues& values) {
        need_teacher(caller);
        const std::string& id = values.at("id");
        if (office->library->find(id) != nullptr) {
          refuse(409, "taken", "'" + id + "' is a prepared patient's name; choose another");
        }
        refuse_in_use(*office, id);
        return kept_answer(summary_json(need(office->library->own->save(id, request.body))));
      }));
  table.add(
      for_callers(office, {"DELETE", "/api/v1/patients/{id}"},
                  [office](Desk&, const Caller& caller, const Request&, const PathValues& values) {
                    need_teacher(caller);
                    refuse_in_use(*office, values.at("id"));
                    need(office->library->own->remove(values.at("id")));
                    return json_answer({{"removed", true}});
                  }));
}

}  // namespace

void add_patient_routes(RouteTable& table, const OfficePtr& office) {
  const auto library = office->library;
  table.add(text_route(office, "/api/v1/patients/read", [library](const Case& one) {
    json out = draft_json(one);
    out["case"] = patient_json(one);
    out["case"].update(truth_json(one, *library));
    return json_response(out.dump());
  }));
  table.add(text_route(office, "/api/v1/patients/config",
                       [library](const Case& one) { return config_response(one, *library); }));
  table.add(text_route(office, "/api/v1/patients/expected",
                       [library](const Case& one) { return expected_of(one, *library); }));
  add_kept(table, office);
}

}  // namespace phren::app::server
