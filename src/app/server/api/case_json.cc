#include "app/server/api/case_json.h"

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "bedside/words.h"
#include "exam/names.h"
#include "patient/person.h"
#include "records/database.h"

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

json to_json(const patient::ConditionUse& condition, const teaching::Library& library) {
  const auto found = library.conditions.find(condition.id);
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
  out["posture"] = word_of(prepared.patient.posture);
  out["clothing"] = word_of(prepared.clothing);
  out["room"] = word_of(prepared.room);
  out["told"] = json::array();
  for (const exam::Finding& finding : prepared.told) {
    out["told"].push_back({{"id", finding.id},
                           {"presence", exam::to_string(finding.presence)},
                           {"basis", exam::to_string(finding.basis)},
                           {"side", exam::to_string(finding.side)}});
  }
  return out;
}

json truth_json(const teaching::Case& prepared, const teaching::Library& library) {
  json out{{"conditions", json::array()}, {"teaching_points", prepared.teaching_points}};
  for (const auto& condition : prepared.patient.conditions) {
    out["conditions"].push_back(to_json(condition, library));
  }
  return out;
}

namespace {

Response packet(std::string bytes) {
  Response response;
  response.content_type = "application/octet-stream";
  response.body = std::move(bytes);
  response.headers.push_back({"Cache-Control", "no-cache"});
  return response;
}

}  // namespace

Response config_response(const teaching::Case& prepared, const teaching::Library& library) {
  const auto setup =
      teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments);
  return setup ? packet(bedside::pack(*setup)) : problem(setup.error());
}

Response keyed_config_response(const teaching::Case& prepared, const teaching::Library& library) {
  const auto setup =
      teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments);
  if (!setup) return problem(setup.error());
  const std::uint64_t key = std::strtoull(records::random_id().substr(0, 16).c_str(), nullptr, 16);
  return packet(bedside::pack_keyed(*setup, key));
}

}  // namespace phren::app::server
