#include "app/server/api/marker.h"

#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <cmath>
#include <nlohmann/json.hpp>
#include <thread>

#include "app/server/api/plan.h"
#include "base/json_text.h"
#include "bedside/examination.h"
#include "bedside/plausible.h"
#include "bedside/replay.h"
#include "exam/record.h"
#include "records/encounters.h"
#include "records/marks.h"
#include "teaching/marking/affected.h"
#include "teaching/marking/debrief.h"
#include "teaching/marking/mark_json.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// What a browser showed and what replay shows may differ by the last beat or breath averaged in
// (ENGINEERING).
constexpr double kSpo2Slack_percent = 3.0;
constexpr double kHeartSlack_per_min = 10.0;
constexpr int kLowPriority = 10;
constexpr std::chrono::milliseconds kPause{500};

// "none", "agrees" or "contradicted".
std::string judge_claim(const std::string& claim, const bedside::Performance& performance) {
  const json parsed = parse_json<json>(claim);
  if (!parsed.is_object() || !parsed.contains("monitor") || !parsed["monitor"].is_object()) {
    return claim.empty() ? "none" : "contradicted";
  }
  const json& shown = parsed["monitor"];
  const auto number = [&](const char* key) {
    return shown.contains(key) && shown[key].is_number() ? shown[key].get<double>() : NAN;
  };
  const double t = number("t");
  for (const bedside::MonitorPoint& point : performance.monitor) {
    if (!(std::abs(point.time_s - t) <= 1.0)) continue;
    const bool agrees =
        std::abs(point.shown.spo2_percent - number("spo2_percent")) <= kSpo2Slack_percent &&
        std::abs(point.shown.heart_rate_per_min - number("heart_rate_per_min")) <=
            kHeartSlack_per_min;
    if (agrees) return "agrees";
  }
  return "contradicted";
}

struct Made {
  json performance, sheet;
};

// What is odd about the hands in a log, for the examiner; a mark is not changed by it.
Result<json> doubts_json(const Office& office, records::Database& db,
                         const records::EncounterInfo& info, const bedside::EncounterLog& log) {
  json list = json::array();
  if (info.station_id.empty()) return list;
  records::Encounters encounters(db);
  const auto is_afar = [&](std::string_view id) {
    const auto& findings = office.library->knowledge.findings;
    const auto index = findings.index_of(id);
    return index && findings[*index].afar;
  };
  auto doubts = bedside::doubts_of(log, TRY(encounters.stored_s(info)), is_afar);
  for (const auto& other : TRY(encounters.of_station(info.station_id))) {
    if (other.id == info.id || other.person_id == info.person_id) continue;
    // Only one can have copied from what was there before.
    if (other.created_ms > info.ended_ms && info.ended_ms > 0) continue;
    const auto theirs = TRY(encounters.log(other.id));
    for (auto& one : bedside::doubts_between(log, theirs, "encounter " + other.id)) {
      doubts.push_back(std::move(one));
    }
  }
  for (const auto& one : doubts) {
    list.push_back({{"rule", one.rule},
                    {"action_id", one.action_id},
                    {"time_s", one.time_s},
                    {"reason", one.reason}});
  }
  return list;
}

Result<Made> replay_and_mark(const Office& office, records::Database& db,
                             const records::EncounterInfo& info) {
  const auto log = TRY(records::Encounters(db).log(info.id));
  const teaching::Library& library = *office.library;
  const auto prepared = TRY(library.get(info.case_id));
  const auto setup = TRY(
      teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments));
  const auto performance = TRY(bedside::replay(log, setup, library.sites));
  const auto checklist = TRY(checklist_of(office, db, info.station_id, info.case_id));
  Made made;
  made.sheet = teaching::mark_json(teaching::mark(
      performance, checklist, library.sites,
      {extra_time_of(db, info), teaching::affected_side(prepared.patient, library.conditions)}));
  made.sheet["claim"] = judge_claim(info.claim, performance);
  made.sheet["doubts"] = TRY(doubts_json(office, db, info, log));
  const patient::Person& person = prepared.patient.person;
  const bedside::Examined who{prepared.id, info.seed, person.age_years, person.sex,
                              prepared.setting};
  made.performance = {{"debrief", teaching::debrief_json(performance)},
                      {"examination", exam::to_json(bedside::examination_of(performance, who))}};
  return made;
}

class ThreadMarker final : public Marker {
 public:
  ThreadMarker(std::shared_ptr<const Office> office, records::Database db, std::string store,
               std::function<std::int64_t()> now_ms)
      : office_(std::move(office)),
        db_(std::move(db)),
        store_(std::move(store)),
        now_ms_(std::move(now_ms)) {
    thread_ = std::thread([this] { run(); });
  }
  ~ThreadMarker() override { stop(); }

  void stop() override {
    is_over_ = true;
    office_->marker_bell->ring();
    if (thread_.joinable()) thread_.join();
  }

 private:
  void run() {
    // Marking may wait; whoever is listening to a patient may not.
    setpriority(PRIO_PROCESS, static_cast<id_t>(syscall(SYS_gettid)), kLowPriority);
    while (!is_over_) {
      if (mark_some()) continue;
      office_->marker_bell->wait();
    }
  }

  // Whether there may be more.
  bool mark_some() {
    const auto waiting = records::Marks(db_).waiting(PHREN_VERSION, 8);
    if (!waiting) {  // the store is busy, or was started anew: look again
      office_->marker_bell->wait_at_most(kPause);
      if (auto again = records::Database::open(store_)) db_ = std::move(*again);
      return true;
    }
    for (const std::string& id : *waiting) {
      if (is_over_) return false;
      mark_encounter(*office_, db_, id, now_ms_());
    }
    return !waiting->empty();
  }

  std::shared_ptr<const Office> office_;
  records::Database db_;
  std::string store_;
  std::function<std::int64_t()> now_ms_;
  std::atomic<bool> is_over_{false};
  std::thread thread_;
};

}  // namespace

double extra_time_of(records::Database& db, const records::EncounterInfo& info) {
  if (info.class_id.empty()) return 0.0;
  const auto member = records::Classes(db).member(info.class_id, info.person_id);
  return member ? member->extra_time_share : 0.0;
}

Result<teaching::Checklist> checklist_of(const Office& office, records::Database& db,
                                         const std::string& station_id,
                                         const std::string& case_id) {
  if (!station_id.empty()) {
    const auto station = TRY(records::Stations(db).find(station_id));
    auto plan = TRY(plan_of(station));
    return std::move(plan.checklist);
  }
  const auto prepared = office.library->get(case_id);
  const auto* fitting = teaching::fitting(
      office.library->checklists,
      prepared ? teaching::conditions_of(prepared->patient) : std::vector<std::string>{});
  if (fitting != nullptr) return *fitting;
  return fail(ErrorCode::kNotFound, "there is no checklist for practice");
}

Status mark_encounter(const Office& office, records::Database& db, const std::string& encounter_id,
                      std::int64_t now_ms) {
  const auto info = TRY(records::Encounters(db).info(encounter_id));
  Result<Made> made = fail(ErrorCode::kIo, "");
  try {
    made = replay_and_mark(office, db, info);
  } catch (const std::exception& error) {
    // Kept like any log that cannot be replayed, so that it is tried once and the next come on.
    made = fail(ErrorCode::kIo, std::string("a fault while replaying: ") + error.what());
  }
  if (!made) made = Made{{{"error", made.error().message}}, nullptr};
  const json& sheet = made->sheet;
  for (const json& one : sheet.is_object() ? sheet["doubts"] : json::array()) {
    records::note_audit(
        db,
        {now_ms, info.person_id, "odd_log", encounter_id,
         one["rule"].get<std::string>() + ": " + one["reason"].get<std::string>(), info.class_id});
  }
  if (sheet.is_object() && sheet["claim"] == "contradicted") {
    records::note_audit(db, {now_ms, info.person_id, "claim_contradicted", encounter_id,
                             "what the browser said it showed is not what replay shows; the mark "
                             "rests on the replay",
                             info.class_id});
  }
  return records::Marks(db).keep_replayed(
      encounter_id, {PHREN_VERSION, made->performance.dump(), sheet.dump()}, now_ms);
}

Result<std::unique_ptr<Marker>> Marker::start(const std::shared_ptr<const Office>& office,
                                              const std::string& store,
                                              std::function<std::int64_t()> now_ms) {
  auto opened = TRY(records::Database::open(store));
  return std::make_unique<ThreadMarker>(office, std::move(opened), store, std::move(now_ms));
}

}  // namespace phren::app::server
