#include "app/server/case_routes.h"

#include <cstring>
#include <memory>
#include <nlohmann/json.hpp>

#include "exam/names.h"
#include "patient/conditions.h"
#include "patient/person.h"
#include "teaching/case.h"
#include "teaching/draw/draw.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

struct CaseShelf {
  std::vector<teaching::Case> cases;
  patient::Conditions conditions;
  patient::Treatments treatments;
  teaching::DrawData drawing;

  Result<teaching::Case> draw(std::string_view id) const {
    const auto draw = teaching::parse_draw_id(id, drawing, conditions);
    if (!draw) return fail(draw.error());
    auto made = teaching::draw_case(*draw, drawing, conditions);
    if (!made) return made;
    const auto person = patient::complete(made->patient.person);
    if (!person) return fail(person.error());
    made->patient.person = *person;
    return made;
  }
};

json to_json(const patient::Person& person) {
  return {{"age_years", person.age_years},
          {"sex", person.sex == patient::Sex::kFemale ? "female" : "male"},
          {"height_cm", person.height_cm},
          {"weight_kg", person.weight_kg},
          {"muscle", person.muscle},
          {"half_chest_breadth_cm", person.half_chest_breadth_cm},
          {"chest_depth_cm", person.chest_depth_cm},
          {"lung_height_cm", person.lung_height_cm}};
}

json summary_of(const teaching::Case& prepared) {
  return {{"id", prepared.id},
          {"title", prepared.title},
          {"setting", prepared.setting},
          {"person", to_json(prepared.patient.person)}};
}

json to_json(const patient::ConditionUse& condition, const CaseShelf& shelf) {
  const auto found = shelf.conditions.find(condition.id);
  return {
      {"id", condition.id},
      {"label", found ? found->name : condition.id},
      {"severity", condition.severity},
      {"side", condition.side == exam::Side::kMidline ? "" : exam::to_string(condition.side)},
      {"lobe", condition.lobe < 0 ? "" : exam::label_of(static_cast<exam::Lobe>(condition.lobe))}};
}

json to_json(const teaching::Case& prepared, const CaseShelf& shelf) {
  json out = summary_of(prepared);
  out["story"] = prepared.story;
  out["posture"] = teaching::to_string(prepared.patient.posture);
  out["clothing"] = teaching::to_string(prepared.clothing);
  out["room"] = teaching::to_string(prepared.room);
  out["teaching_points"] = prepared.teaching_points;
  out["told"] = json::array();
  for (const exam::Finding& finding : prepared.told) {
    out["told"].push_back({{"id", finding.id},
                           {"presence", exam::to_string(finding.presence)},
                           {"basis", exam::to_string(finding.basis)},
                           {"side", exam::to_string(finding.side)}});
  }
  out["conditions"] = json::array();
  for (const auto& condition : prepared.patient.conditions) {
    out["conditions"].push_back(to_json(condition, shelf));
  }
  return out;
}

json to_json(const patient::Treatment& treatment, int index) {
  return {{"id", treatment.id},           {"index", index},
          {"label", treatment.name},      {"effect", treatment.summary},
          {"is_held", treatment.is_held}, {"has_side", treatment.needs_side}};
}

json to_json(const patient::Condition& condition) {
  return {{"id", condition.id},
          {"label", condition.name},
          {"meaning", condition.summary},
          {"has_side", condition.needs_side},
          {"least_age_years", condition.least_age_years},
          {"most_age_years", condition.most_age_years}};
}

Result<CaseShelf> load_shelf(const std::filesystem::path& data) {
  CaseShelf shelf;
  auto conditions = patient::Conditions::load(data / "conditions");
  if (!conditions) return fail(conditions.error());
  shelf.conditions = std::move(*conditions);
  auto treatments = patient::Treatments::load(data / "treatments");
  if (!treatments) return fail(treatments.error());
  shelf.treatments = std::move(*treatments);
  auto drawing = teaching::DrawData::load(data, shelf.conditions);
  if (!drawing) return fail(drawing.error());
  shelf.drawing = std::move(*drawing);
  const auto vocabulary = teaching::CaseVocabulary::load(data);
  if (!vocabulary) return fail(vocabulary.error());
  auto listed = teaching::list_cases(data / "cases", *vocabulary);
  if (!listed) return fail(listed.error());
  for (auto& one : *listed) {
    if (!one.loaded) return fail(one.loaded.error());
    const auto person = patient::complete(one.loaded->patient.person);
    if (!person) return fail(at(one.file.string(), person.error()));
    one.loaded->patient.person = *person;
    shelf.cases.push_back(std::move(*one.loaded));
  }
  return shelf;
}

using CaseHandler = std::function<Response(const teaching::Case&)>;

// A GET under /api/v1/cases/{id}; an unknown id is answered here, with the nearest known one.
Route case_route(std::string pattern, std::shared_ptr<const CaseShelf> shelf, CaseHandler handler) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [shelf, answer = std::move(handler)](const Request&, const PathValues& values) {
    const std::string& id = values.at("id");
    std::vector<std::string> known;
    for (const teaching::Case& prepared : shelf->cases) {
      if (prepared.id == id) return answer(prepared);
      known.push_back(prepared.id);
    }
    if (teaching::is_draw_id(id)) {
      const auto drawn = shelf->draw(id);
      return drawn ? answer(*drawn) : problem(drawn.error());
    }
    return problem(404, "not found", "there is no case '" + id + "'." + did_you_mean(id, known));
  };
  return route;
}

// The packed numbers of patient/config.h, as 64-bit floats, least significant byte first.
Response config_of(const teaching::Case& prepared, const CaseShelf& shelf) {
  const auto config = patient::configure(prepared.patient, shelf.conditions, shelf.treatments);
  if (!config) return problem(config.error());
  const std::vector<double> numbers = patient::pack(*config);
  Response response;
  response.content_type = "application/octet-stream";
  response.body.resize(numbers.size() * sizeof(double));
  std::memcpy(response.body.data(), numbers.data(), response.body.size());
  response.headers.push_back({"Cache-Control", "no-cache"});
  return response;
}

Route list_route(std::string pattern, const char* key, json list) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [text = json{{key, std::move(list)}}.dump()](const Request&, const PathValues&) {
    return json_response(text);
  };
  return route;
}

}  // namespace

Status add_case_routes(RouteTable& table, const std::filesystem::path& data) {
  auto loaded = load_shelf(data);
  if (!loaded) return fail(loaded.error());
  const auto shelf = std::make_shared<const CaseShelf>(std::move(*loaded));
  json cases = json::array();
  for (const teaching::Case& prepared : shelf->cases) cases.push_back(summary_of(prepared));
  json treatments = json::array();
  for (const patient::Treatment& treatment : shelf->treatments.all()) {
    treatments.push_back(to_json(treatment, static_cast<int>(treatments.size())));
  }
  json conditions = json::array();
  for (const patient::Condition& one : shelf->conditions.all()) conditions.push_back(to_json(one));
  json levels = json::array();
  for (const teaching::DrawLevel& level : shelf->drawing.levels()) {
    levels.push_back({{"id", level.id}, {"label", level.label}, {"meaning", level.meaning}});
  }
  table.add(list_route("/api/v1/levels", "levels", std::move(levels)));
  table.add(list_route("/api/v1/cases", "cases", std::move(cases)));
  table.add(list_route("/api/v1/conditions", "conditions", std::move(conditions)));
  table.add(list_route("/api/v1/treatments", "treatments", std::move(treatments)));
  table.add(case_route("/api/v1/cases/{id}", shelf, [shelf](const teaching::Case& prepared) {
    return json_response(to_json(prepared, *shelf).dump());
  }));
  table.add(case_route("/api/v1/cases/{id}/config", shelf, [shelf](const teaching::Case& prepared) {
    return config_of(prepared, *shelf);
  }));
  return {};
}

}  // namespace phren::app::server
