// Reading encounters: part of Encounters.
#include <soci/soci.h>

#include <algorithm>

#include "bedside/log_text.h"
#include "records/encounters.h"

namespace phren::records {
namespace {

constexpr const char* kColumns =
    "SELECT e.id, e.person_id, e.station_id, e.case_id, COALESCE(s.class_id, ''),"
    " COALESCE(s.state, 'closed'), e.seed, e.created_ms, e.ended_ms, e.claim FROM encounter e"
    " LEFT JOIN station s ON s.id = e.station_id WHERE ";

EncounterInfo info_of(const soci::row& row) {
  EncounterInfo info;
  info.id = row.get<std::string>(0);
  info.person_id = row.get<std::string>(1);
  info.station_id = row.get<std::string>(2);
  info.case_id = row.get<std::string>(3);
  info.class_id = row.get<std::string>(4);
  info.station_state = parse_station_state(row.get<std::string>(5)).value_or(StationState::kClosed);
  info.seed = std::strtoull(row.get<std::string>(6).c_str(), nullptr, 10);
  info.created_ms = row.get<long long>(7);
  info.ended_ms = row.get<long long>(8);
  info.claim = row.get<std::string>(9);
  return info;
}

Result<std::vector<EncounterInfo>> read_by(Database& db, const std::string& where,
                                           const std::string& value) {
  std::vector<EncounterInfo> list;
  TRY(db.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << kColumns + where + " = :v ORDER BY e.created_ms, e.id", soci::use(value));
    for (const soci::row& row : rows) list.push_back(info_of(row));
    return {};
  }));
  return list;
}

}  // namespace

Result<EncounterInfo> Encounters::info(std::string_view encounter_id) {
  auto list = TRY(read_by(db_, "e.id", std::string(encounter_id)));
  if (list.empty()) return fail(no_encounter(encounter_id));
  return std::move(list.front());
}

Result<SeenEncounter> Encounters::see(const Person& reader, std::string_view encounter_id) {
  SeenEncounter seen;
  auto found = info(encounter_id);
  if (!found && found.error().code != ErrorCode::kNotFound) return fail(found.error());
  if (found) {
    seen.info = std::move(*found);
    seen.is_own = seen.info.person_id == reader.id;
    if (!seen.info.class_id.empty()) {
      seen.role = TRY(Classes(db_).role_in(seen.info.class_id, reader.id));
    }
    if (seen.is_own || is_staff(seen.role)) return seen;
  }
  return fail(no_encounter(encounter_id));
}

Result<bedside::EncounterLog> Encounters::load(const Person& reader,
                                               std::string_view encounter_id) {
  TRY(see(reader, encounter_id));
  return log(encounter_id);
}

Result<bedside::EncounterLog> Encounters::log(std::string_view encounter_id) {
  const std::string id(encounter_id);
  std::string text;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT header FROM encounter WHERE id = :e", soci::use(id), soci::into(text);
    if (!sql.got_data()) return fail(no_encounter(id));
    const soci::rowset<std::string> lines =
        (sql.prepare << "SELECT line FROM action WHERE encounter_id = :e ORDER BY position",
         soci::use(id));
    for (const std::string& line : lines) text += line + "\n";
    return {};
  }));
  auto parsed = TRY(bedside::parse_log(text, id));
  return std::move(parsed.log);
}

Result<Progress> Encounters::progress(std::string_view encounter_id) {
  const std::string id(encounter_id);
  Progress progress;
  std::string line;
  const auto ok = db_.transact([&](soci::session& sql) -> Status {
    long long position = -1, stored = 0;
    sql << "SELECT position, line, stored_ms FROM action WHERE encounter_id = :e ORDER BY position "
           "DESC"
           " LIMIT 1",
        soci::use(id), soci::into(position), soci::into(line), soci::into(stored);
    if (sql.got_data()) progress.actions = static_cast<std::size_t>(position + 1);
    progress.last_stored_ms = stored;
    return {};
  });
  if (!ok) return fail(ok.error());
  if (const auto action = bedside::parse_action(line)) {
    progress.last_time_s = action->time_s;
    progress.last_deed = bedside::name_of(action->deed);
  }
  return progress;
}

Result<std::vector<bedside::EncounterAction>> Encounters::recent(std::string_view encounter_id,
                                                                 int most) {
  const std::string id(encounter_id);
  std::vector<bedside::EncounterAction> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<std::string> lines =
        (sql.prepare
             << "SELECT line FROM action WHERE encounter_id = :e ORDER BY position DESC LIMIT " +
                    std::to_string(most),
         soci::use(id));
    for (const std::string& line : lines) list.push_back(TRY(bedside::parse_action(line)));
    return {};
  }));
  std::reverse(list.begin(), list.end());
  return list;
}

Result<std::vector<double>> Encounters::stored_s(const EncounterInfo& info) {
  std::vector<double> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT stored_ms FROM action WHERE encounter_id = :e ORDER BY position",
         soci::use(info.id));
    for (const soci::row& row : rows) {
      list.push_back(static_cast<double>(row.get<long long>(0) - info.created_ms) / 1000.0);
    }
    return {};
  }));
  return list;
}

Result<std::vector<std::string>> Encounters::of_person(std::string_view person_id) {
  const auto all = TRY(all_of_person(person_id));
  std::vector<std::string> ids;
  for (const EncounterInfo& info : all) ids.push_back(info.id);
  return ids;
}

Result<std::vector<EncounterInfo>> Encounters::all_of_person(std::string_view person_id) {
  return read_by(db_, "e.person_id", std::string(person_id));
}

Result<std::vector<EncounterInfo>> Encounters::of_station(std::string_view station_id) {
  return read_by(db_, "e.station_id", std::string(station_id));
}

Result<std::optional<EncounterInfo>> Encounters::of_person_at(std::string_view person_id,
                                                              std::string_view station_id) {
  auto all = TRY(all_of_person(person_id));
  for (EncounterInfo& info : all) {
    if (info.station_id == station_id) return std::optional(std::move(info));
  }
  return std::optional<EncounterInfo>();
}

}  // namespace phren::records
