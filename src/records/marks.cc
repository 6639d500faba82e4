#include "records/marks.h"

#include <soci/soci.h>

#include <nlohmann/json.hpp>

#include "records/audit.h"

namespace phren::records {
namespace {

std::string text_of(double points, const std::string& note) {
  nlohmann::json json{{"points", points}};
  if (!note.empty()) json["note"] = note;
  return json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

// What this examiner had given for the item; empty when nothing.
std::string written(soci::session& sql, const std::string& encounter_id, const ExaminerMark& mark) {
  double points = 0.0;
  std::string note;
  sql << "SELECT points, note FROM examiner_mark WHERE encounter_id = :e AND examiner_id = :x AND"
         " item_id = :i",
      soci::use(encounter_id), soci::use(mark.examiner_id), soci::use(mark.item_id),
      soci::into(points), soci::into(note);
  return sql.got_data() ? text_of(points, note) : std::string();
}

std::string chances_text(soci::session& sql, const std::string& station, const std::string& judge) {
  nlohmann::json json = nlohmann::json::object();
  const soci::rowset<soci::row> rows =
      (sql.prepare << "SELECT item_id, chance FROM angoff WHERE station_id = :s AND judge_id = :j",
       soci::use(station), soci::use(judge));
  for (const soci::row& row : rows) json[row.get<std::string>(0)] = row.get<double>(1);
  return json.dump();
}

}  // namespace

Status Marks::put(std::string_view encounter_id, const std::vector<ExaminerMark>& marks,
                  std::int64_t now_ms) {
  const std::string id(encounter_id);
  const long long now = now_ms;
  // In the same transaction, and held until it ends: a release comes before it or after it.
  const std::string lock = db_.backend() == Backend::kPostgresql ? " FOR SHARE OF s" : "";
  return db_.transact([&](soci::session& sql) -> Status {
    std::string state;
    sql << "SELECT s.state FROM encounter e JOIN station s ON s.id = e.station_id WHERE e.id = :e" +
               lock,
        soci::use(id), soci::into(state);
    if (sql.got_data() && state == "released") {
      return fail(ErrorCode::kConflict, "the results are out; take them back first");
    }
    std::string class_id;
    sql << "SELECT COALESCE(s.class_id, '') FROM encounter e LEFT JOIN station s ON s.id ="
           " e.station_id WHERE e.id = :e",
        soci::use(id), soci::into(class_id);
    for (const ExaminerMark& mark : marks) {
      const std::string was = written(sql, id, mark), became = text_of(mark.points, mark.note);
      // Two who write the same mark at once: the later one stands, and both are in the log.
      sql << "INSERT INTO examiner_mark (encounter_id, examiner_id, item_id, points, note, at_ms)"
             " VALUES (:e, :x, :i, :p, :n, :t) ON CONFLICT (encounter_id, examiner_id, item_id)"
             " DO UPDATE SET points = excluded.points, note = excluded.note, at_ms = "
             "excluded.at_ms",
          soci::use(id), soci::use(mark.examiner_id), soci::use(mark.item_id),
          soci::use(mark.points), soci::use(mark.note), soci::use(now);
      if (was == became) continue;
      insert_audit(sql,
                   {now_ms, mark.examiner_id, "mark_set", id, mark.item_id, class_id, was, became});
    }
    return {};
  });
}

Result<std::vector<ExaminerMark>> Marks::of_encounter(std::string_view encounter_id) {
  const std::string id(encounter_id);
  std::vector<ExaminerMark> marks;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT examiner_id, item_id, points, note FROM examiner_mark WHERE"
                        " encounter_id = :e ORDER BY examiner_id, item_id",
         soci::use(id));
    for (const soci::row& row : rows) {
      marks.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<double>(2),
                       row.get<std::string>(3)});
    }
    return {};
  }));
  return marks;
}

Status Marks::put_angoff(std::string_view station_id, std::string_view judge_id,
                         const std::map<std::string, double>& chances, std::int64_t now_ms) {
  const std::string station(station_id), judge(judge_id);
  const long long now = now_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    std::string class_id;
    sql << "SELECT class_id FROM station WHERE id = :s", soci::use(station), soci::into(class_id);
    AuditEntry entry{now_ms, judge, "angoff_set", station, "", class_id};
    note_change(entry, chances_text(sql, station, judge), nlohmann::json(chances).dump());
    insert_audit(sql, entry);
    sql << "DELETE FROM angoff WHERE station_id = :s AND judge_id = :j", soci::use(station),
        soci::use(judge);
    for (const auto& [item, chance] : chances) {
      sql << "INSERT INTO angoff (station_id, judge_id, item_id, chance, at_ms)"
             " VALUES (:s, :j, :i, :c, :t)",
          soci::use(station), soci::use(judge), soci::use(item), soci::use(chance), soci::use(now);
    }
    return {};
  });
}

Result<std::map<std::string, std::map<std::string, double>>> Marks::angoff(
    std::string_view station_id) {
  const std::string station(station_id);
  std::map<std::string, std::map<std::string, double>> all;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT judge_id, item_id, chance FROM angoff WHERE station_id = :s",
         soci::use(station));
    for (const soci::row& row : rows) {
      all[row.get<std::string>(0)][row.get<std::string>(1)] = row.get<double>(2);
    }
    return {};
  }));
  return all;
}

Status Marks::keep_replayed(std::string_view encounter_id, const Replayed& replayed,
                            std::int64_t now_ms) {
  const std::string id(encounter_id);
  const long long now = now_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM replay_cache WHERE encounter_id = :e", soci::use(id);
    sql << "INSERT INTO replay_cache (encounter_id, made_by, performance, sheet, made_ms)"
           " VALUES (:e, :b, :p, :s, :t)",
        soci::use(id), soci::use(replayed.made_by), soci::use(replayed.performance),
        soci::use(replayed.sheet), soci::use(now);
    return {};
  });
}

Result<std::optional<Replayed>> Marks::replayed(std::string_view encounter_id) {
  const std::string id(encounter_id);
  std::optional<Replayed> found;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    Replayed one;
    sql << "SELECT made_by, performance, sheet FROM replay_cache WHERE encounter_id = :e",
        soci::use(id), soci::into(one.made_by), soci::into(one.performance), soci::into(one.sheet);
    if (sql.got_data()) found = std::move(one);
    return {};
  }));
  return found;
}

Result<std::vector<std::string>> Marks::waiting(std::string_view made_by, int most) {
  const std::string maker(made_by);
  std::vector<std::string> ids;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<std::string> rows =
        (sql.prepare << "SELECT e.id FROM encounter e LEFT JOIN replay_cache r ON r.encounter_id ="
                        " e.id AND r.made_by = :m WHERE e.ended_ms > 0 AND r.encounter_id IS NULL"
                        " ORDER BY CASE WHEN e.station_id = '' THEN 1 ELSE 0 END, e.ended_ms, e.id"
                        " LIMIT " +
                            std::to_string(most),
         soci::use(maker));
    for (const std::string& id : rows) ids.push_back(id);
    return {};
  }));
  return ids;
}

}  // namespace phren::records
