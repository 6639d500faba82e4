// The texts of patients that an instructor has built, as they were when somebody met them: marks, debriefs and
// rounds are worked out from the patient again, and its file may have been changed or removed by then.
//
// Shapes:  one text is kept once, under a hash of itself; who keeps one holds that id. Empty: the patient is not
//          an instructor's own, so nothing is kept of it.
// Errors:  kNotFound for an id that nobody holds.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

class KeptCases {
 public:
  explicit KeptCases(Database& database) : db_(database) {}

  Result<std::string> keep(const std::string& toml_text);  // its id
  Result<std::string> text(const std::string& id);

 private:
  Database& db_;
};

}  // namespace phren::records
