#include "app/server/api/api.h"

#include <memory>
#include <nlohmann/json.hpp>

#include "app/server/api/case_routes.h"
#include "app/server/api/classroom.h"
#include "app/server/api/impression_route.h"
#include "app/server/api/measurement_route.h"
#include "app/server/api/specimen_routes.h"
#include "exam/names.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

json to_json(const exam::Site& site) {
  return {{"id", site.id},
          {"name", site.name},
          {"landmark", site.landmark},
          {"side", exam::to_string(site.side)},
          {"aspect", exam::to_string(site.at.aspect)},
          {"u", site.at.u},
          {"v", site.at.v},
          {"mirror_id", site.mirror_id}};
}

// A GET whose answer never changes while the server runs.
Route fixed_route(std::string pattern, std::string body) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [text = std::move(body)](const Request&, const PathValues&) {
    return json_response(text);
  };
  return route;
}

void add_sites(RouteTable& table, const exam::SiteMap& sites) {
  json list = json::array();
  for (const exam::Site& site : sites.all()) list.push_back(to_json(site));
  table.add(fixed_route("/api/v1/sites", json{{"sites", std::move(list)}}.dump()));
}

// The words of the trade for what can be found; the pages show them, nothing is computed here.
json to_json(const reasoning::FindingInfo& finding) {
  return {{"id", finding.id},           {"label", finding.label},
          {"meaning", finding.meaning}, {"found_by", exam::to_string(finding.found_by)},
          {"look", finding.look},       {"first", finding.first},
          {"is_sided", finding.sided}};
}

void add_findings(RouteTable& table, const reasoning::FindingTable& findings) {
  json list = json::array();
  for (const auto& finding : findings.all()) list.push_back(to_json(finding));
  table.add(fixed_route("/api/v1/findings", json{{"findings", std::move(list)}}.dump()));
}

}  // namespace

Result<RouteTable> load_api(const std::filesystem::path& data, const OfficeOptions& options) {
  const auto office = TRY(Office::open(data, options));
  return load_api(office);
}

Result<RouteTable> load_api(const std::shared_ptr<Office>& office) {
  RouteTable table;
  table.set_refusals(office->refusals);
  add_case_routes(table, office);
  add_sites(table, office->library->sites);
  add_findings(table, office->library->knowledge.findings);
  add_impression_route(table, office->library);
  TRY(add_measurement_route(table, {}));
  add_specimen_routes(table, office);
  for (const auto add :
       {add_health_routes, add_session_routes, add_class_routes, add_roster_routes,
        add_people_routes, add_learner_routes, add_report_routes, add_export_routes,
        add_station_routes, add_board_routes, add_standard_routes, add_encounter_routes,
        add_result_routes, add_drill_routes, add_ability_routes, add_drill_rule_routes,
        add_round_routes, add_patient_routes, add_show_routes}) {
    add(table, office);
  }
  return table;
}

}  // namespace phren::app::server
