// The result of one encounter as people see it: the replayed log's mark, joined with what examiners
// marked.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/server/api/guard.h"
#include "records/marks.h"
#include "teaching/marking/examiner.h"

namespace phren::app::server {

struct EncounterResult {
  records::EncounterInfo info;
  teaching::Checklist checklist;
  teaching::MarkSheet by_log;
  teaching::JoinedSheet joined;
  std::string claim;         // none, agrees, contradicted
  nlohmann::json doubts;     // what is odd about the hands: [{rule, action_id, time_s, reason}]
  std::string debrief_text;  // JSON
  std::string examination;   // JSON of exam/record.h
  std::vector<records::ExaminerMark> given;
};

// Nothing while it is not replayed yet; refuses when it could not be replayed.
std::optional<EncounterResult> result_of(const Office& office, Desk& desk,
                                         const records::EncounterInfo& info);

// Results of all ended and replayed encounters of a station.
std::vector<EncounterResult> results_of_station(const Office& office, Desk& desk,
                                                const std::string& station_id);

}  // namespace phren::app::server
