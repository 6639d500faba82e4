// Stations: a task with its cases, checklist and rules, joined by code, open and closed by hand.
//
// Shapes:  `plan` is the JSON text of the plan (docs/formats/class-api.md); the store does not read
//          it, it only keeps it with the cases named beside it.
// Errors:  kNotFound, or kInvalidArgument naming the field.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

enum class StationState { kDraft, kOpen, kClosed, kReleased };
std::string_view to_string(StationState state);
Result<StationState> parse_station_state(std::string_view word);
bool may_follow(StationState from, StationState to);

struct Station {
  std::string id, class_id, title, join_code;
  StationState state = StationState::kDraft;
  std::uint64_t seed = 1;
  std::int64_t created_ms = 0;
  std::int64_t closed_ms = 0;  // 0: not closed
  std::vector<std::string> case_ids;
  std::string checklist_id;
  std::string plan;
};

class Stations {
 public:
  explicit Stations(Database& database) : db_(database) {}

  // Fills in id, code, seed and state.
  Result<Station> create(Station station, std::string_view actor_id, std::int64_t now_ms);
  Result<Station> find(std::string_view station_id);
  Result<Station> find_code(std::string_view join_code);
  Result<std::vector<Station>> of_class(std::string_view class_id);
  // Title, cases, checklist and plan.
  Status update(const Station& station, std::string_view actor_id, std::int64_t now_ms);
  Status set_state(std::string_view station_id, StationState state, std::string_view actor_id,
                   std::int64_t now_ms);
  // Cases of every station that is open or waits for its release, each once.
  Result<std::vector<std::string>> cases_in_use();

 private:
  Database& db_;
};

}  // namespace phren::records
