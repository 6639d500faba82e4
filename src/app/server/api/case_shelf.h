// The prepared patients as the server holds them, and what of them may be told to whom.
//
// Errors:  load() names the data file it could not use.
// Threads: does not change after it is loaded.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string_view>
#include <vector>

#include "app/server/net/http.h"
#include "patient/conditions.h"
#include "teaching/case.h"
#include "teaching/draw/draw.h"

namespace phren::app::server {

struct CaseShelf {
  std::vector<teaching::Case> cases;
  patient::Conditions conditions;
  patient::Treatments treatments;
  teaching::DrawData drawing;

  static Result<CaseShelf> load(const std::filesystem::path& data);
  const teaching::Case* find(std::string_view id) const;  // null: there is no such prepared one
  // A prepared case, or a drawn one (docs/formats/draw.md).
  Result<teaching::Case> get(std::string_view id) const;
};

nlohmann::json summary_json(const teaching::Case& prepared);
// What the crew sees and is told; never what is wrong with the patient.
nlohmann::json patient_json(const teaching::Case& prepared);
// What is wrong, and what the case teaches.
nlohmann::json truth_json(const teaching::Case& prepared, const CaseShelf& shelf);
// The packed numbers of patient/config.h, as 64-bit floats, least significant byte first.
Response config_response(const teaching::Case& prepared, const CaseShelf& shelf);

}  // namespace phren::app::server
