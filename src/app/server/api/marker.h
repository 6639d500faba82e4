// Replays ended encounters natively and marks them, one after another, beside the server's work.
//
// Safety:  what it makes is a cache: when it is missing or made by another version, it is made
// again. Threads: one of its own at low priority; stop() ends it after the encounter under way.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "app/server/api/office.h"
#include "records/encounters.h"

namespace phren::app::server {

class Marker {
 public:
  // `store`: connection string; `now_ms`: the class's clock (net/class_clock.h). Errors as
  // Database::open.
  static Result<std::unique_ptr<Marker>> start(const std::shared_ptr<const Office>& office,
                                               const std::string& store,
                                               std::function<std::int64_t()> now_ms);
  virtual ~Marker() = default;
  virtual void stop() = 0;
};

// Replays and marks one encounter and keeps the result. A log that cannot be replayed is kept as
// such, with the reason.
Status mark_encounter(const Office& office, records::Database& db, const std::string& encounter_id,
                      std::int64_t now_ms);

// The share of extra time that its learner has on the roll now; 0 in practice.
double extra_time_of(records::Database& db, const records::EncounterInfo& info);

// The checklist of its station, or for practice one that fits what the patient has (or any chest).
Result<teaching::Checklist> checklist_of(const Office& office, records::Database& db,
                                         const std::string& station_id, const std::string& case_id);

}  // namespace phren::app::server
