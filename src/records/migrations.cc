#include "records/migrations.h"

#include <soci/soci.h>

#include "records/database.h"

namespace phren::records {
namespace {

using Step = std::vector<const char*>;

// Only what both stores understand: TEXT, BIGINT, DOUBLE PRECISION, no automatic numbers.
const std::vector<Step>& steps() {
  static const std::vector<Step> all{
      {// 1: people, sessions, encounters
       "CREATE TABLE person (id TEXT PRIMARY KEY, login TEXT NOT NULL UNIQUE, name TEXT NOT NULL,"
       " role TEXT NOT NULL, password_hash TEXT NOT NULL, created_ms BIGINT NOT NULL)",
       "CREATE TABLE login_failure (login TEXT NOT NULL, at_ms BIGINT NOT NULL)",
       "CREATE INDEX login_failure_by_login ON login_failure (login, at_ms)",
       "CREATE TABLE session (token_hash TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES"
       " person (id), csrf TEXT NOT NULL, created_ms BIGINT NOT NULL, seen_ms BIGINT NOT NULL)",
       "CREATE TABLE class_group (id TEXT PRIMARY KEY, title TEXT NOT NULL, instructor_id TEXT NOT"
       " NULL REFERENCES person (id), created_ms BIGINT NOT NULL)",
       "CREATE TABLE member (class_id TEXT NOT NULL REFERENCES class_group (id), person_id TEXT NOT"
       " NULL REFERENCES person (id), extra_time_share DOUBLE PRECISION NOT NULL,"
       " PRIMARY KEY (class_id, person_id))",
       "CREATE TABLE station (id TEXT PRIMARY KEY, class_id TEXT NOT NULL REFERENCES class_group"
       " (id), title TEXT NOT NULL, case_id TEXT NOT NULL, checklist_id TEXT NOT NULL, seed TEXT"
       " NOT NULL, join_code TEXT NOT NULL UNIQUE, state TEXT NOT NULL, created_ms BIGINT NOT "
       "NULL)",
       "CREATE TABLE encounter (id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person"
       " (id), station_id TEXT NOT NULL, case_id TEXT NOT NULL, seed TEXT NOT NULL, header TEXT NOT"
       " NULL, created_ms BIGINT NOT NULL)",
       "CREATE INDEX encounter_by_person ON encounter (person_id)",
       "CREATE TABLE action (encounter_id TEXT NOT NULL REFERENCES encounter (id), action_id TEXT"
       " NOT NULL, position BIGINT NOT NULL, line TEXT NOT NULL, stored_ms BIGINT NOT NULL,"
       " PRIMARY KEY (encounter_id, action_id), UNIQUE (encounter_id, position))",
       "CREATE TABLE audit (id TEXT PRIMARY KEY, at_ms BIGINT NOT NULL, actor_id TEXT NOT NULL,"
       " event TEXT NOT NULL, subject TEXT NOT NULL, detail TEXT NOT NULL)"},
      {// 2: drill answers and examiners' marks
       "CREATE TABLE drill_answer (person_id TEXT NOT NULL REFERENCES person (id), answer_id TEXT"
       " NOT NULL, at_ms BIGINT NOT NULL, skill TEXT NOT NULL, answered TEXT NOT NULL, slow BIGINT"
       " NOT NULL, PRIMARY KEY (person_id, answer_id))",
       "CREATE TABLE examiner_mark (encounter_id TEXT NOT NULL REFERENCES encounter (id),"
       " examiner_id TEXT NOT NULL, item_id TEXT NOT NULL, points DOUBLE PRECISION NOT NULL, note"
       " TEXT NOT NULL, at_ms BIGINT NOT NULL, PRIMARY KEY (encounter_id, examiner_id, item_id))"}};
  return all;
}

}  // namespace

int newest_version() {
  return static_cast<int>(steps().size());
}

Status migrate(Database& database) {
  int version = 0;
  auto ok = database.transact([&](soci::session& sql) -> Status {
    sql << "CREATE TABLE IF NOT EXISTS schema_version (version BIGINT PRIMARY KEY)";
    sql << "SELECT COALESCE(MAX(version), 0) FROM schema_version", soci::into(version);
    return {};
  });
  if (!ok) return ok;
  if (version > newest_version()) {
    return fail(ErrorCode::kUnsupported, "the store has version " + std::to_string(version) +
                                             "; this program knows up to version " +
                                             std::to_string(newest_version()));
  }
  for (; version < newest_version(); ++version) {
    ok = database.transact([&](soci::session& sql) -> Status {
      for (const char* statement : steps()[static_cast<std::size_t>(version)]) sql << statement;
      const int next = version + 1;
      sql << "INSERT INTO schema_version (version) VALUES (:v)", soci::use(next);
      return {};
    });
    if (!ok) return ok;
  }
  return {};
}

const std::vector<TableShape>& tables() {
  static const std::vector<TableShape> all{
      {"person", {"id", "login", "name", "role", "password_hash", "created_ms"}},
      {"class_group", {"id", "title", "instructor_id", "created_ms"}},
      {"member", {"class_id", "person_id", "extra_time_share"}},
      {"station",
       {"id", "class_id", "title", "case_id", "checklist_id", "seed", "join_code", "state",
        "created_ms"}},
      {"encounter", {"id", "person_id", "station_id", "case_id", "seed", "header", "created_ms"}},
      {"action", {"encounter_id", "action_id", "position", "line", "stored_ms"}},
      {"drill_answer", {"person_id", "answer_id", "at_ms", "skill", "answered", "slow"}},
      {"examiner_mark", {"encounter_id", "examiner_id", "item_id", "points", "note", "at_ms"}},
      {"audit", {"id", "at_ms", "actor_id", "event", "subject", "detail"}}};
  return all;
}

}  // namespace phren::records
