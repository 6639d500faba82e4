// Encounters as they are kept: the header and the lines of their logs, nothing worked out from
// them.
//
// Errors:  an encounter of somebody else is "not found" for whoever may not see it, and the attempt
//          goes to the audit log.
// Safety:  append() may be repeated with the same actions: each is stored once. What it returned
//          success for is on disk.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"
#include "records/people.h"
#include "teaching/encounter/log.h"

namespace phren::records {

struct Appended {
  std::size_t stored = 0;
  std::size_t repeated = 0;
  std::size_t total = 0;  // actions in the log now
};

class Encounters {
 public:
  explicit Encounters(Database& database) : db_(database) {}

  // Starting the same encounter twice with the same header does nothing the second time.
  Status start(std::string_view person_id, std::string_view station_id,
               const teaching::EncounterHeader& header, std::int64_t now_ms);
  // All or none. kInvalidArgument for an id reused with other contents, time running backwards, or
  // anything after the end.
  Result<Appended> append(std::string_view person_id, std::string_view encounter_id,
                          const std::vector<teaching::EncounterAction>& actions,
                          std::int64_t now_ms);
  // The learner's own, or, for an instructor or examiner, any.
  Result<teaching::EncounterLog> load(const Person& reader, std::string_view encounter_id,
                                      std::int64_t now_ms);
  Result<std::vector<std::string>> of_person(std::string_view person_id);

 private:
  Database& db_;
};

}  // namespace phren::records
