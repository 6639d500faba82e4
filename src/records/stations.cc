#include "records/stations.h"

#include <soci/soci.h>
#include <sodium.h>

#include <nlohmann/json.hpp>

#include "records/audit.h"
#include "records/passwords.h"

namespace phren::records {
namespace {

constexpr std::size_t kStationCodeSigns = 6;
constexpr const char* kStationColumns =
    "SELECT id, class_id, title, join_code, state, seed, created_ms, closed_ms, checklist_id, plan"
    " FROM station WHERE ";

std::vector<std::string> cases_of(soci::session& sql, const std::string& station_id) {
  std::vector<std::string> ids;
  const soci::rowset<std::string> rows =
      (sql.prepare << "SELECT case_id FROM station_case WHERE station_id = :s ORDER BY position",
       soci::use(station_id));
  for (const std::string& id : rows) ids.push_back(id);
  return ids;
}

Station station_of(const soci::row& row) {
  Station s;
  s.id = row.get<std::string>(0);
  s.class_id = row.get<std::string>(1);
  s.title = row.get<std::string>(2);
  s.join_code = row.get<std::string>(3);
  s.state = parse_station_state(row.get<std::string>(4)).value_or(StationState::kClosed);
  s.seed = std::strtoull(row.get<std::string>(5).c_str(), nullptr, 10);
  s.created_ms = row.get<long long>(6);
  s.closed_ms = row.get<long long>(7);
  s.checklist_id = row.get<std::string>(8);
  s.plan = row.get<std::string>(9);
  return s;
}

Result<std::vector<Station>> stations_by(Database& db, const std::string& where,
                                         const std::string& value) {
  std::vector<Station> list;
  TRY(db.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << kStationColumns + where + " = :v ORDER BY created_ms, id",
         soci::use(value));
    for (const soci::row& row : rows) list.push_back(station_of(row));
    for (Station& station : list) station.case_ids = cases_of(sql, station.id);
    return {};
  }));
  return list;
}

Result<Station> read_one(Database& db, const std::string& where, const std::string& value) {
  auto list = TRY(stations_by(db, where, value));
  if (list.empty() || value.empty()) {
    return fail(ErrorCode::kNotFound, "there is no such station, or it is not yours");
  }
  return std::move(list.front());
}

// What an examiner may have to answer for, as one JSON text.
std::string text_of(const Station& station) {
  return nlohmann::json{{"title", station.title},
                        {"case_ids", station.case_ids},
                        {"checklist_id", station.checklist_id},
                        {"plan", nlohmann::json::parse(station.plan, nullptr, false)}}
      .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

void insert_cases(soci::session& sql, const Station& station) {
  sql << "DELETE FROM station_case WHERE station_id = :s", soci::use(station.id);
  long long position = 0;
  for (const std::string& case_id : station.case_ids) {
    sql << "INSERT INTO station_case (station_id, position, case_id) VALUES (:s, :n, :c)",
        soci::use(station.id), soci::use(position), soci::use(case_id);
    ++position;
  }
}

}  // namespace

std::string_view to_string(StationState state) {
  switch (state) {
    case StationState::kDraft:
      return "draft";
    case StationState::kOpen:
      return "open";
    case StationState::kClosed:
      return "closed";
    case StationState::kReleased:
      return "released";
  }
  return "closed";
}

Result<StationState> parse_station_state(std::string_view word) {
  for (const auto state : {StationState::kDraft, StationState::kOpen, StationState::kClosed,
                           StationState::kReleased}) {
    if (to_string(state) == word) return state;
  }
  return fail(
      out_of_range("state", "'" + std::string(word) + "'", "one of draft, open, closed, released"));
}

bool may_follow(StationState from, StationState to) {
  return (from == StationState::kDraft && to == StationState::kOpen) ||
         (from == StationState::kOpen && to == StationState::kClosed) ||
         (from == StationState::kClosed && to == StationState::kOpen) ||
         (from == StationState::kClosed && to == StationState::kReleased) ||
         (from == StationState::kReleased && to == StationState::kClosed);
}

Result<Station> Stations::create(Station station, std::string_view actor_id, std::int64_t now_ms) {
  station.id = random_id();
  station.join_code = new_code(kStationCodeSigns);
  station.state = StationState::kDraft;
  randombytes_buf(&station.seed, sizeof station.seed);
  station.seed &= kSeedMask;
  station.created_ms = now_ms;
  const std::string seed = std::to_string(station.seed), state = "draft";
  const std::string first = station.case_ids.empty() ? "" : station.case_ids.front();
  const long long now = now_ms;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO station (id, class_id, title, case_id, checklist_id, seed, join_code, "
           "state,"
           " created_ms, plan, closed_ms) VALUES (:i, :c, :t, :a, :l, :s, :j, :e, :m, :p, 0)",
        soci::use(station.id), soci::use(station.class_id), soci::use(station.title),
        soci::use(first), soci::use(station.checklist_id), soci::use(seed),
        soci::use(station.join_code), soci::use(state), soci::use(now), soci::use(station.plan);
    insert_cases(sql, station);
    insert_audit(
        sql, {now_ms, std::string(actor_id), "station_created", station.id, "", station.class_id});
    return {};
  }));
  return station;
}

Result<Station> Stations::find(std::string_view station_id) {
  return read_one(db_, "id", std::string(station_id));
}

Result<Station> Stations::find_code(std::string_view join_code) {
  return read_one(db_, "join_code", std::string(join_code));
}

Result<std::vector<Station>> Stations::of_class(std::string_view class_id) {
  return stations_by(db_, "class_id", std::string(class_id));
}

Status Stations::update(const Station& station, std::string_view actor_id, std::int64_t now_ms) {
  const std::string first = station.case_ids.empty() ? "" : station.case_ids.front();
  const auto old = find(station.id);
  if (!old) return fail(old.error());
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE station SET title = :t, case_id = :a, checklist_id = :l, plan = :p WHERE id = "
           ":i",
        soci::use(station.title), soci::use(first), soci::use(station.checklist_id),
        soci::use(station.plan), soci::use(station.id);
    insert_cases(sql, station);
    AuditEntry entry{now_ms, std::string(actor_id), "station_changed", station.id,
                     "",     station.class_id};
    note_change(entry, text_of(*old), text_of(station));
    insert_audit(sql, entry);
    return {};
  });
}

Status Stations::set_state(std::string_view station_id, StationState state,
                           std::string_view actor_id, std::int64_t now_ms) {
  const std::string id(station_id), word(to_string(state));
  const long long closed = state == StationState::kOpen ? 0 : now_ms;
  const bool keeps_time = state == StationState::kReleased;
  return db_.transact([&](soci::session& sql) -> Status {
    std::string class_id, was;
    sql << "SELECT class_id, state FROM station WHERE id = :i", soci::use(id), soci::into(class_id),
        soci::into(was);
    sql << "UPDATE station SET state = :s WHERE id = :i", soci::use(word), soci::use(id);
    if (!keeps_time) {
      sql << "UPDATE station SET closed_ms = :c WHERE id = :i", soci::use(closed), soci::use(id);
    }
    insert_audit(sql,
                 {now_ms, std::string(actor_id), "station_" + word, id, "", class_id, was, word});
    return {};
  });
}

Result<std::vector<std::string>> Stations::cases_in_use() {
  std::vector<std::string> ids;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<std::string> rows =
        sql.prepare << "SELECT DISTINCT c.case_id FROM station_case c JOIN station s ON s.id ="
                       " c.station_id WHERE s.state IN ('open', 'closed') ORDER BY c.case_id";
    for (const std::string& id : rows) ids.push_back(id);
    return {};
  }));
  return ids;
}

}  // namespace phren::records
