#include "app/server/api/case_routes.h"

#include <map>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>

#include "app/server/api/guard.h"
#include "bedside/stay_json.h"
#include "teaching/expected.h"

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

// Whether who asks may see cases in use. Without a store nobody is known, and nothing is in use.
using SeesAll = std::function<bool()>;
using CaseHandler = std::function<Response(const teaching::Case&)>;

// A GET that works without the store too; with it, whoever teaches sees cases in use.
Route seeing_route(const OfficePtr& office, const std::string& pattern,
                   std::function<Response(const SeesAll&, const PathValues&)> run) {
  Route route = for_anyone({"GET", pattern}, [office, run](Desk& desk, const Request& request,
                                                           const PathValues& values) {
    return run(
        [&] {
          const auto caller = find_caller(*office, desk, request);
          return caller && is_teaching(*caller);
        },
        values);
  });
  route.handler = [run](const Request&, const PathValues& values) {
    return run([] { return false; }, values);
  };
  return route;
}

// What only staff may see must not stay on a device that learners use as well.
Response not_kept(Response response) {
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

// A GET under /api/v1/cases/{id}; an unknown id is answered here, with the nearest known one. A
// drawn case has many spellings; its own id is the one that counts.
Route case_route(const OfficePtr& office, const std::string& pattern, CaseHandler answer) {
  return seeing_route(
      office, pattern,
      [office, answer = std::move(answer)](const SeesAll& sees_all, const PathValues& values) {
        const std::string& id = values.at("id");
        std::vector<std::string> known;
        for (const teaching::Case& one : office->library->cases) known.push_back(one.id);
        const std::string base = teaching::split_case_id(id).base_id;
        const auto found = office->library->get(id);
        if (!found && found.error().code == ErrorCode::kNotFound && !teaching::is_draw_id(base)) {
          return problem(404, "not found",
                         "there is no case '" + id + "'." + did_you_mean(id, known));
        }
        if (!found) return problem(found.error());
        if (!office->cases_in_use->has(teaching::split_case_id(found->id).base_id)) {
          return answer(*found);
        }
        if (sees_all()) return not_kept(answer(*found));
        return problem(403, "in use",
                       "this case is in a station now; it can be seen again when that is released");
      });
}

Route list_route(const OfficePtr& office) {
  return seeing_route(
      office, "/api/v1/cases", [office](const SeesAll& sees_all, const PathValues&) {
        json cases = json::array();
        bool is_any_in_use = false;
        for (const teaching::Case& prepared : office->library->cases) {
          const bool is_in_use = office->cases_in_use->has(prepared.id);
          if (is_in_use && !sees_all()) continue;
          is_any_in_use = is_any_in_use || is_in_use;
          cases.push_back(summary_json(prepared));
          cases.back()["is_in_use"] = is_in_use;
        }
        // The instructor's own are nobody else's to find; a code reaches them.
        const bool has_own = !office->options.own_cases.empty() && sees_all();
        const auto own =
            has_own ? office->library->own->list() : std::vector<teaching::ListedCase>();
        for (const teaching::ListedCase& one : own) {
          if (!one.loaded || office->library->find(one.loaded->id) != nullptr) continue;
          is_any_in_use = true;
          cases.push_back(summary_json(*one.loaded));
          cases.back()["is_in_use"] = office->cases_in_use->has(one.loaded->id);
          cases.back()["is_own"] = true;
        }
        Response list = json_response(json{{"cases", std::move(cases)}}.dump());
        return is_any_in_use ? not_kept(std::move(list)) : list;
      });
}

json to_json(const patient::Condition& condition) {
  return {{"id", condition.id},
          {"label", condition.name},
          {"meaning", condition.summary},
          {"has_side", condition.needs_side},
          {"least_age_years", condition.least_age_years},
          {"most_age_years", condition.most_age_years}};
}

// Answers that took long to make, of cases of the library; others are as many as there are numbers.
class KeptAnswers {
 public:
  Response get(const teaching::Case& prepared, bool is_of_library,
               const std::function<Response()>& make) {
    {
      const std::lock_guard lock(mutex_);
      if (const auto found = kept_.find(prepared.id); found != kept_.end()) return found->second;
    }
    Response made = make();
    if (!is_of_library || made.status != 200) return made;
    const std::lock_guard lock(mutex_);
    return kept_.emplace(prepared.id, std::move(made)).first->second;
  }

 private:
  std::mutex mutex_;
  std::map<std::string, Response> kept_;
};

// What a listener should find at every site; the patient is the one of seed 1.
Response expected_response(const teaching::Case& prepared, const teaching::Library& library) {
  const auto setup =
      teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments);
  if (!setup) return problem(setup.error());
  const auto heard = teaching::expected_at_sites(*setup, library.sites, Seed{1});
  if (!heard) return problem(heard.error());
  json places = json::array();
  for (const bedside::HeardAt& one : *heard) places.push_back(json(bedside::heard_json(one)));
  return json_response(json{{"places", std::move(places)}}.dump());
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

void add_fixed_lists(RouteTable& table, const teaching::Library& library) {
  json treatments = json::array(), conditions = json::array(), levels = json::array();
  for (const patient::Treatment& treatment : library.treatments.all()) {
    treatments.push_back(to_json(treatment, static_cast<int>(treatments.size())));
  }
  for (const patient::Condition& one : library.conditions.all()) conditions.push_back(to_json(one));
  for (const teaching::DrawLevel& level : library.drawing.levels()) {
    levels.push_back({{"id", level.id}, {"label", level.label}, {"meaning", level.meaning}});
  }
  table.add(fixed_list("/api/v1/levels", "levels", std::move(levels)));
  table.add(fixed_list("/api/v1/conditions", "conditions", std::move(conditions)));
  table.add(fixed_list("/api/v1/treatments", "treatments", std::move(treatments)));
}

}  // namespace

void add_case_routes(RouteTable& table, const std::shared_ptr<const Office>& office) {
  const auto library = office->library;
  table.add(list_route(office));
  add_fixed_lists(table, *library);
  table.add(case_route(office, "/api/v1/cases/{id}", [library](const teaching::Case& prepared) {
    json out = patient_json(prepared);
    out.update(truth_json(prepared, *library));
    return json_response(out.dump());
  }));
  table.add(case_route(
      office, "/api/v1/cases/{id}/config",
      [library](const teaching::Case& prepared) { return config_response(prepared, *library); }));
  const auto kept = std::make_shared<KeptAnswers>();
  Route expected = case_route(
      office, "/api/v1/cases/{id}/expected", [library, kept](const teaching::Case& prepared) {
        return kept->get(prepared, library->find(prepared.id) != nullptr,
                         [&] { return expected_response(prepared, *library); });
      });
  expected.lane = Lane::kSlow;
  table.add(std::move(expected));
}

}  // namespace phren::app::server
