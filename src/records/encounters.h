// Encounters as they are kept: the header and the lines of their logs, nothing worked out from
// them.
//
// Errors:  an encounter of somebody else is "not found" for whoever may not see it; who asks for it
//          over the network is noted by the server (app/server/net/refusals.h).
// Rules:   the learner may; so may the staff of the class whose station it was met at; nobody else.
// Safety:  append() may be repeated with the same actions: each is stored once. What it returned
//          success for is on disk (in a batch: when the batch is committed).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "bedside/log.h"
#include "records/classes.h"
#include "records/database.h"
#include "records/stations.h"

namespace phren::records {

// The "not found" of an encounter that is not there, or not yours.
Error no_encounter(std::string_view id);

struct Appended {
  std::size_t stored = 0;
  std::size_t repeated = 0;
  std::size_t total = 0;  // actions in the log now
};

struct EncounterInfo {
  std::string id, person_id, station_id, case_id;
  std::string class_id;                                // of the station; empty for practice
  StationState station_state = StationState::kClosed;  // only with a station
  std::uint64_t seed = 1;
  std::int64_t created_ms = 0;
  std::int64_t ended_ms = 0;  // 0: under way
  std::string claim;          // what the browser said it showed at the end; may be empty
};

struct SeenEncounter {
  EncounterInfo info;
  bool is_own = false;
  ClassRole role = ClassRole::kNone;  // of the reader in that class
};

struct Progress {
  std::size_t actions = 0;
  double last_time_s = 0.0;
  std::string last_deed;            // "place", "treat", ...; empty at the start
  std::int64_t last_stored_ms = 0;  // when the server took it; 0 at the start
};

class Encounters {
 public:
  explicit Encounters(Database& database) : db_(database) {}

  // Starting the same encounter twice with the same header does nothing the second time.
  Status start(std::string_view person_id, std::string_view station_id,
               const bedside::EncounterHeader& header, std::int64_t now_ms);
  // All or none. kInvalidArgument for an id reused with other contents, time running backwards or
  // beyond `latest_s`, or anything after the end; kConflict for a new action before `earliest_s`,
  // kTooMany for too many of them (the last place is kept for the end). `claim` is kept with the end.
  Result<Appended> append(std::string_view person_id, std::string_view encounter_id,
                          const std::vector<bedside::EncounterAction>& actions, std::int64_t now_ms,
                          double latest_s = bedside::kLongestEncounter_s,
                          const std::string& claim = {}, double earliest_s = 0.0);
  // Ends whatever of the station is still under way, so that nobody escapes a mark by never ending:
  // at the time limit (`limit_s`, 0: none, longer by each member's extra time) or 60 s after the
  // last action without one, but no later than the closing. Gives how many.
  Result<int> end_all(const Station& station, double limit_s, std::string_view actor_id,
                      std::int64_t now_ms);
  Result<bedside::EncounterLog> load(const Person& reader, std::string_view encounter_id);

  // What `reader` may see; kNotFound otherwise.
  Result<SeenEncounter> see(const Person& reader, std::string_view encounter_id);
  // Without asking who reads: for marking.
  Result<EncounterInfo> info(std::string_view encounter_id);
  Result<bedside::EncounterLog> log(std::string_view encounter_id);
  Result<Progress> progress(std::string_view encounter_id);
  // The last `most` actions, in order.
  Result<std::vector<bedside::EncounterAction>> recent(std::string_view encounter_id, int most);
  // When each action was stored, in seconds since the encounter began, in the log's order.
  Result<std::vector<double>> stored_s(const EncounterInfo& info);

  Result<std::vector<std::string>> of_person(std::string_view person_id);
  Result<std::vector<EncounterInfo>> all_of_person(std::string_view person_id);
  Result<std::vector<EncounterInfo>> of_station(std::string_view station_id);
  Result<std::optional<EncounterInfo>> of_person_at(std::string_view person_id,
                                                    std::string_view station_id);

 private:
  Database& db_;
};

}  // namespace phren::records
