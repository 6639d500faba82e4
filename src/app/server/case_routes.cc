#include "app/server/case_routes.h"

#include <memory>
#include <nlohmann/json.hpp>

namespace phren::app::server {
namespace {

using nlohmann::json;

json to_json(const patient::Treatment& treatment, int index) {
  return {{"id", treatment.id},
          {"index", index},
          {"label", treatment.name},
          {"effect", treatment.summary},
          {"expect", treatment.expect},
          {"caution", treatment.caution},
          {"protocol", treatment.protocol},
          {"is_held", treatment.is_held},
          {"has_side", treatment.needs_side}};
}

Response in_a_station() {
  return problem(403, "in use",
                 "this case is in a station now; it can be seen again when that is released");
}

using CaseHandler = std::function<Response(const teaching::Case&)>;

// A GET under /api/v1/cases/{id}; an unknown id is answered here, with the nearest known one.
Route case_route(std::string pattern, const ApiShelves& shelves, CaseHandler handler) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [shelf = shelves.cases, in_use = shelves.in_use, answer = std::move(handler)](
                      const Request&, const PathValues& values) {
    const std::string& id = values.at("id");
    if (in_use->has(id)) return in_a_station();
    if (const teaching::Case* prepared = shelf->find(id)) return answer(*prepared);
    if (teaching::is_draw_id(id)) {
      const auto drawn = shelf->get(id);
      if (!drawn) return problem(drawn.error());
      return in_use->has(drawn->id) ? in_a_station() : answer(*drawn);  // under any spelling
    }
    std::vector<std::string> known;
    for (const teaching::Case& prepared : shelf->cases) known.push_back(prepared.id);
    return problem(404, "not found", "there is no case '" + id + "'." + did_you_mean(id, known));
  };
  return route;
}

Route list_route(const ApiShelves& shelves) {
  Route route;
  route.method = "GET";
  route.pattern = "/api/v1/cases";
  route.handler = [shelf = shelves.cases, in_use = shelves.in_use](const Request&,
                                                                   const PathValues&) {
    json cases = json::array();
    for (const teaching::Case& prepared : shelf->cases) {
      if (!in_use->has(prepared.id)) cases.push_back(summary_json(prepared));
    }
    return json_response(json{{"cases", std::move(cases)}}.dump());
  };
  return route;
}

json to_json(const patient::Condition& condition) {
  return {{"id", condition.id},
          {"label", condition.name},
          {"meaning", condition.summary},
          {"has_side", condition.needs_side},
          {"least_age_years", condition.least_age_years},
          {"most_age_years", condition.most_age_years}};
}

// A list that never changes while the server runs.
Route fixed_list(std::string pattern, const char* key, json list) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [text = json{{key, std::move(list)}}.dump()](const Request&, const PathValues&) {
    return json_response(text);
  };
  return route;
}

void add_fixed_lists(RouteTable& table, const CaseShelf& shelf) {
  json treatments = json::array(), conditions = json::array(), levels = json::array();
  for (const patient::Treatment& treatment : shelf.treatments.all()) {
    treatments.push_back(to_json(treatment, static_cast<int>(treatments.size())));
  }
  for (const patient::Condition& one : shelf.conditions.all()) conditions.push_back(to_json(one));
  for (const teaching::DrawLevel& level : shelf.drawing.levels()) {
    levels.push_back({{"id", level.id}, {"label", level.label}, {"meaning", level.meaning}});
  }
  table.add(fixed_list("/api/v1/levels", "levels", std::move(levels)));
  table.add(fixed_list("/api/v1/conditions", "conditions", std::move(conditions)));
  table.add(fixed_list("/api/v1/treatments", "treatments", std::move(treatments)));
}

}  // namespace

void add_case_routes(RouteTable& table, const ApiShelves& shelves) {
  table.add(list_route(shelves));
  add_fixed_lists(table, *shelves.cases);
  table.add(case_route("/api/v1/cases/{id}", shelves,
                       [shelf = shelves.cases](const teaching::Case& prepared) {
                         json out = patient_json(prepared);
                         out.update(truth_json(prepared, *shelf));
                         return json_response(out.dump());
                       }));
  table.add(case_route("/api/v1/cases/{id}/config", shelves,
                       [shelf = shelves.cases](const teaching::Case& prepared) {
                         return config_response(prepared, *shelf);
                       }));
}

}  // namespace phren::app::server
