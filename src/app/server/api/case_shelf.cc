#include "app/server/api/case_shelf.h"

#include <cstring>
#include <nlohmann/json.hpp>

#include "exam/names.h"
#include "patient/person.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

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

json to_json(const patient::ConditionUse& condition, const CaseShelf& shelf) {
  const auto found = shelf.conditions.find(condition.id);
  return {
      {"id", condition.id},
      {"label", found ? found->name : condition.id},
      {"severity", condition.severity},
      {"side", condition.side == exam::Side::kMidline ? "" : exam::to_string(condition.side)},
      {"lobe", condition.lobe < 0 ? "" : exam::label_of(static_cast<exam::Lobe>(condition.lobe))}};
}

}  // namespace

json summary_json(const teaching::Case& prepared) {
  return {{"id", prepared.id},
          {"title", prepared.title},
          {"setting", prepared.setting},
          {"person", to_json(prepared.patient.person)}};
}

json patient_json(const teaching::Case& prepared) {
  json out = summary_json(prepared);
  out["story"] = prepared.story;
  out["posture"] = teaching::to_string(prepared.patient.posture);
  out["clothing"] = teaching::to_string(prepared.clothing);
  out["room"] = teaching::to_string(prepared.room);
  out["told"] = json::array();
  for (const exam::Finding& finding : prepared.told) {
    out["told"].push_back({{"id", finding.id},
                           {"presence", exam::to_string(finding.presence)},
                           {"basis", exam::to_string(finding.basis)},
                           {"side", exam::to_string(finding.side)}});
  }
  return out;
}

json truth_json(const teaching::Case& prepared, const CaseShelf& shelf) {
  json out{{"conditions", json::array()}, {"teaching_points", prepared.teaching_points}};
  for (const auto& condition : prepared.patient.conditions) {
    out["conditions"].push_back(to_json(condition, shelf));
  }
  return out;
}

const teaching::Case* CaseShelf::find(std::string_view id) const {
  for (const teaching::Case& prepared : cases) {
    if (prepared.id == id) return &prepared;
  }
  return nullptr;
}

Result<teaching::Case> CaseShelf::get(std::string_view id) const {
  if (const teaching::Case* prepared = find(id)) return *prepared;
  if (!teaching::is_draw_id(id)) {
    return fail(ErrorCode::kNotFound, "there is no case '" + std::string(id) + "'");
  }
  const auto draw = teaching::parse_draw_id(id, drawing, conditions);
  if (!draw) return fail(draw.error());
  auto made = teaching::draw_case(*draw, drawing, conditions);
  if (!made) return made;
  const auto person = patient::complete(made->patient.person);
  if (!person) return fail(person.error());
  made->patient.person = *person;
  return made;
}

Result<CaseShelf> CaseShelf::load(const std::filesystem::path& data) {
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

// The packed numbers of patient/config.h, as 64-bit floats, least significant byte first.
Response config_response(const teaching::Case& prepared, const CaseShelf& shelf) {
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

}  // namespace phren::app::server
