#include "records/encounters.h"

#include <soci/soci.h>

#include <map>

#include "teaching/encounter/log_text.h"

namespace phren::records {
namespace {

Error not_found(std::string_view id) {
  return {ErrorCode::kNotFound,
          "encounter '" + std::string(id) + "' is not among those you may see"};
}

// What stands in the log already, as far as the next action must agree with it.
struct Tail {
  std::map<std::string, std::string> line_of;
  double last_time_s = 0.0;
  bool ended = false;
  long long position = 0;
};

Tail read_tail(soci::session& sql, const std::string& encounter_id) {
  Tail tail;
  const soci::rowset<soci::row> rows =
      (sql.prepare
           << "SELECT action_id, line FROM action WHERE encounter_id = :e ORDER BY position",
       soci::use(encounter_id));
  std::string last;
  for (const soci::row& row : rows) {
    last = row.get<std::string>(1);
    tail.line_of[row.get<std::string>(0)] = last;
    ++tail.position;
  }
  if (last.empty()) return tail;
  if (const auto action = teaching::parse_action(last)) {
    tail.last_time_s = action->time_s;
    tail.ended = std::holds_alternative<teaching::End>(action->deed);
  }
  return tail;
}

// Text of one line without its line break, as it is stored.
std::string line_of(const teaching::EncounterAction& action) {
  std::string line = teaching::to_line(action);
  line.pop_back();
  return line;
}

Status append_one(soci::session& sql, const std::string& encounter_id,
                  const teaching::EncounterAction& action, long long now, Tail& tail,
                  Appended& result) {
  const std::string line = line_of(action);
  if (const auto found = tail.line_of.find(action.id); found != tail.line_of.end()) {
    if (found->second != line) {
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
  if (auto ok = teaching::check_follows(action, tail.last_time_s); !ok) {
    return fail(at("action " + action.id, ok.error()));
  }
  if (tail.position >= static_cast<long long>(teaching::kMostActions)) {
    return fail(ErrorCode::kUnsupported, "more than 20000 actions in one encounter");
  }
  sql << "INSERT INTO action (encounter_id, action_id, position, line, stored_ms)"
         " VALUES (:e, :a, :p, :l, :t)",
      soci::use(encounter_id), soci::use(action.id), soci::use(tail.position), soci::use(line),
      soci::use(now);
  ++tail.position;
  ++result.stored;
  tail.line_of[action.id] = line;
  tail.last_time_s = action.time_s;
  tail.ended = std::holds_alternative<teaching::End>(action.deed);
  return {};
}

}  // namespace

Status Encounters::start(std::string_view person_id, std::string_view station_id,
                         const teaching::EncounterHeader& header, std::int64_t now_ms) {
  const std::string person(person_id), station(station_id), seed = std::to_string(header.seed);
  const std::string line = teaching::to_line(header);
  const long long now = now_ms;
  if (auto ok = teaching::parse_header(line); !ok) return fail(ok.error());
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
                                    const std::vector<teaching::EncounterAction>& actions,
                                    std::int64_t now_ms) {
  const std::string id(encounter_id);
  Appended result;
  bool refused = false;
  // On PostgreSQL the row lock makes two writers of one encounter take turns.
  const std::string query = std::string("SELECT person_id FROM encounter WHERE id = :e") +
                            (db_.backend() == Backend::kPostgresql ? " FOR UPDATE" : "");
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::string owner;
    sql << query, soci::use(id), soci::into(owner);
    refused = !sql.got_data() || owner != person_id;
    if (refused) return fail(not_found(id));
    Tail tail = read_tail(sql, id);
    for (const teaching::EncounterAction& action : actions) {
      if (auto one = append_one(sql, id, action, now_ms, tail, result); !one) return one;
    }
    result.total = static_cast<std::size_t>(tail.position);
    return {};
  });
  if (refused) note_audit(db_, {now_ms, std::string(person_id), "append_refused", id, ""});
  if (!ok) return fail(ok.error());
  return result;
}

Result<teaching::EncounterLog> Encounters::load(const Person& reader, std::string_view encounter_id,
                                                std::int64_t now_ms) {
  const std::string id(encounter_id);
  std::string text;
  bool refused = false;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    std::string owner;
    sql << "SELECT person_id, header FROM encounter WHERE id = :e", soci::use(id),
        soci::into(owner), soci::into(text);
    refused = !sql.got_data() || (owner != reader.id && reader.role == Role::kLearner);
    if (refused) return fail(not_found(id));
    const soci::rowset<std::string> lines =
        (sql.prepare << "SELECT line FROM action WHERE encounter_id = :e ORDER BY position",
         soci::use(id));
    for (const std::string& line : lines) text += line + "\n";
    return {};
  });
  if (refused) note_audit(db_, {now_ms, reader.id, "read_refused", id, ""});
  if (!ok) return fail(ok.error());
  auto parsed = teaching::parse_log(text, id);
  if (!parsed) return fail(parsed.error());
  return std::move(parsed->log);
}

Result<std::vector<std::string>> Encounters::of_person(std::string_view person_id) {
  const std::string person(person_id);
  std::vector<std::string> ids;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<std::string> rows =
        (sql.prepare << "SELECT id FROM encounter WHERE person_id = :p ORDER BY created_ms, id",
         soci::use(person));
    for (const std::string& id : rows) ids.push_back(id);
    return {};
  });
  if (!ok) return fail(ok.error());
  return ids;
}

}  // namespace phren::records
