#include "records/encounters.h"

#include <soci/soci.h>

#include <algorithm>
#include <cmath>

#include "bedside/log_text.h"

namespace phren::records {
namespace {

// What stands in the log already, as far as the next action must agree with it.
struct Tail {
  double last_time_s = 0.0;
  bool ended = false;
  long long position = 0;
};

Tail read_tail(soci::session& sql, const std::string& encounter_id) {
  Tail tail;
  std::string last;
  sql << "SELECT position, line FROM action WHERE encounter_id = :e ORDER BY position DESC LIMIT 1",
      soci::use(encounter_id), soci::into(tail.position), soci::into(last);
  if (!sql.got_data()) return {};
  ++tail.position;
  if (const auto action = bedside::parse_action(last)) {
    tail.last_time_s = action->time_s;
    tail.ended = std::holds_alternative<bedside::End>(action->deed);
  }
  return tail;
}

// Text of one line without its line break, as it is stored.
std::string line_of(const bedside::EncounterAction& action) {
  std::string line = bedside::to_line(action);
  line.pop_back();
  return line;
}

struct Bounds {
  double earliest_s = 0.0, latest_s = 0.0;
};

// What is stored under an action's id; asked for each action of a batch, so prepared once.
class StoredLine {
 public:
  StoredLine(soci::session& sql, const std::string& encounter_id)
      : encounter_id_(encounter_id),
        statement_(
            (sql.prepare << "SELECT line FROM action WHERE encounter_id = :e AND action_id = :a",
             soci::use(encounter_id_), soci::use(action_id_), soci::into(line_))) {}
  // Null when there is none; valid until the next call.
  const std::string* find(const std::string& action_id) {
    action_id_ = action_id;
    return statement_.execute(true) ? &line_ : nullptr;
  }

 private:
  std::string encounter_id_, action_id_, line_;
  soci::statement statement_;
};

Status append_one(soci::session& sql, const std::string& encounter_id,
                  const bedside::EncounterAction& action, long long now, const Bounds& bounds,
                  StoredLine& stored_line, Tail& tail, Appended& result) {
  const std::string line = line_of(action);
  if (const std::string* stored = stored_line.find(action.id)) {
    if (*stored != line) {
      return fail(ErrorCode::kInvalidArgument,
                  "action id " + action.id + " was used before for another action");
    }
    ++result.repeated;
    return {};
  }
  if (tail.ended) {
    return fail(ErrorCode::kInvalidArgument,
                "action " + action.id + " comes after the end of the encounter");
  }
  if (auto ok = bedside::check_follows(action, tail.last_time_s); !ok) {
    return fail(at("action " + action.id, ok.error()));
  }
  if (action.time_s < bounds.earliest_s) {
    return fail(ErrorCode::kConflict,
                "action " + action.id +
                    " comes too long after the time that it claims, or after the time limit");
  }
  if (action.time_s > bounds.latest_s) {
    return fail(at("action " + action.id,
                   out_of_range("t", action.time_s,
                                "no later than the clock since the start of the encounter")));
  }
  // The last place is kept for the end.
  const bool is_end = std::holds_alternative<bedside::End>(action.deed);
  const auto most = static_cast<long long>(bedside::kMostActions) - (is_end ? 0 : 1);
  if (tail.position >= most) {
    return fail(ErrorCode::kTooMany, "more than 20000 actions in one encounter");
  }
  sql << "INSERT INTO action (encounter_id, action_id, position, line, stored_ms)"
         " VALUES (:e, :a, :p, :l, :t)",
      soci::use(encounter_id), soci::use(action.id), soci::use(tail.position), soci::use(line),
      soci::use(now);
  ++tail.position;
  ++result.stored;
  tail.last_time_s = action.time_s;
  tail.ended = is_end;
  return {};
}

}  // namespace

Error no_encounter(std::string_view id) {
  return {ErrorCode::kNotFound,
          "encounter '" + std::string(id) + "' is not among those you may see"};
}

Status Encounters::start(std::string_view person_id, std::string_view station_id,
                         const bedside::EncounterHeader& header, std::int64_t now_ms) {
  const std::string person(person_id), station(station_id), seed = std::to_string(header.seed);
  const std::string line = bedside::to_line(header);
  const long long now = now_ms;
  TRY(bedside::parse_header(line));
  return db_.transact([&](soci::session& sql) -> Status {
    std::string owner, old_line;
    sql << "SELECT person_id, header FROM encounter WHERE id = :e", soci::use(header.encounter_id),
        soci::into(owner), soci::into(old_line);
    if (sql.got_data()) {
      if (owner == person && old_line == line) return {};
      return fail(ErrorCode::kInvalidArgument,
                  "encounter id " + header.encounter_id + " is already used");
    }
    sql << "INSERT INTO encounter (id, person_id, station_id, case_id, seed, header, created_ms)"
           " VALUES (:i, :p, :s, :c, :d, :h, :t)",
        soci::use(header.encounter_id), soci::use(person), soci::use(station),
        soci::use(header.case_id), soci::use(seed), soci::use(line), soci::use(now);
    return {};
  });
}

Result<Appended> Encounters::append(std::string_view person_id, std::string_view encounter_id,
                                    const std::vector<bedside::EncounterAction>& actions,
                                    std::int64_t now_ms, double latest_s, const std::string& claim,
                                    double earliest_s) {
  const std::string id(encounter_id);
  const Bounds bounds{earliest_s, latest_s};
  Appended result;
  // On PostgreSQL the row lock makes two writers of one encounter take turns.
  const std::string query = std::string("SELECT person_id FROM encounter WHERE id = :e") +
                            (db_.backend() == Backend::kPostgresql ? " FOR UPDATE" : "");
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::string owner;
    sql << query, soci::use(id), soci::into(owner);
    if (!sql.got_data() || owner != person_id) return fail(no_encounter(id));
    Tail tail = read_tail(sql, id);
    StoredLine stored_line(sql, id);
    const bool was_ended = tail.ended;
    for (const bedside::EncounterAction& action : actions) {
      TRY(append_one(sql, id, action, now_ms, bounds, stored_line, tail, result));
    }
    if (tail.ended && !was_ended) {
      const long long now = now_ms;
      sql << "UPDATE encounter SET ended_ms = :t, claim = :c WHERE id = :e", soci::use(now),
          soci::use(claim), soci::use(id);
    }
    result.total = static_cast<std::size_t>(tail.position);
    return {};
  });
  if (!ok) return fail(ok.error());
  return result;
}

Result<int> Encounters::end_all(const Station& station, double limit_s, std::string_view actor_id,
                                std::int64_t now_ms) {
  constexpr double kPatience_s = 60.0;  // without a limit: what is not sent was not done
  const auto all = TRY(of_station(station.id));
  int ended = 0;
  for (const EncounterInfo& info : all) {
    if (info.ended_ms > 0) continue;
    const auto done = TRY(progress(info.id));
    const auto member = Classes(db_).member(station.class_id, info.person_id);
    const double extra = member ? member->extra_time_share : 0.0;
    const std::int64_t closed_ms = station.closed_ms > 0 ? station.closed_ms : now_ms;
    const double until_s = std::min(
        {limit_s > 0.0 ? limit_s * (1.0 + extra) : done.last_time_s + kPatience_s,
         static_cast<double>(closed_ms - info.created_ms) / 1000.0, bedside::kLongestEncounter_s});
    bedside::EncounterAction end;
    end.id = "server-" + random_id();
    // Down to whole milliseconds, as lines keep them, and never before the last action.
    end.time_s = std::max(std::floor(until_s * 1000.0) / 1000.0, done.last_time_s);
    end.deed = bedside::End{};
    TRY(append(info.person_id, info.id, {end}, now_ms));
    if (auto noted = note_audit(db_, {now_ms, std::string(actor_id), "ended_by_server", info.id,
                                      "the learner had not ended it", station.class_id});
        !noted) {
      return fail(noted.error());
    }
    ++ended;
  }
  return ended;
}

}  // namespace phren::records
