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
       " TEXT NOT NULL, at_ms BIGINT NOT NULL, PRIMARY KEY (encounter_id, examiner_id, item_id))"},
      {// 3: roles by class, stations with their plan, judges, drill modes
       "ALTER TABLE audit ADD COLUMN class_id TEXT NOT NULL DEFAULT ''",
       "CREATE INDEX audit_by_class ON audit (class_id, at_ms)",
       "ALTER TABLE session ADD COLUMN class_id TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE session ADD COLUMN station_id TEXT NOT NULL DEFAULT ''",
       "CREATE INDEX session_by_person ON session (person_id)",
       "ALTER TABLE class_group ADD COLUMN join_code TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE member ADD COLUMN join_key TEXT NOT NULL DEFAULT ''",
       "CREATE INDEX member_by_person ON member (person_id)",
       "CREATE TABLE class_staff (class_id TEXT NOT NULL REFERENCES class_group (id), person_id "
       "TEXT"
       " NOT NULL REFERENCES person (id), role TEXT NOT NULL, PRIMARY KEY (class_id, person_id))",
       "INSERT INTO class_staff (class_id, person_id, role)"
       " SELECT id, instructor_id, 'instructor' FROM class_group",
       "ALTER TABLE station ADD COLUMN plan TEXT NOT NULL DEFAULT '{}'",
       "ALTER TABLE station ADD COLUMN closed_ms BIGINT NOT NULL DEFAULT 0",
       "CREATE TABLE station_case (station_id TEXT NOT NULL REFERENCES station (id), position "
       "BIGINT"
       " NOT NULL, case_id TEXT NOT NULL, PRIMARY KEY (station_id, position))",
       "ALTER TABLE encounter ADD COLUMN ended_ms BIGINT NOT NULL DEFAULT 0",
       "ALTER TABLE encounter ADD COLUMN claim TEXT NOT NULL DEFAULT ''",
       "CREATE UNIQUE INDEX encounter_once ON encounter (station_id, person_id)"
       " WHERE station_id <> ''",
       "ALTER TABLE drill_answer ADD COLUMN mode TEXT NOT NULL DEFAULT 'name'",
       "CREATE TABLE drill_item (id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person "
       "(id),"
       " mode TEXT NOT NULL, skill TEXT NOT NULL, detail TEXT NOT NULL, at_ms BIGINT NOT NULL)",
       "CREATE TABLE angoff (station_id TEXT NOT NULL REFERENCES station (id), judge_id TEXT NOT"
       " NULL, item_id TEXT NOT NULL, chance DOUBLE PRECISION NOT NULL, at_ms BIGINT NOT NULL,"
       " PRIMARY KEY (station_id, judge_id, item_id))",
       // Worked out again whenever it is not there; the log stays the only truth.
       "CREATE TABLE replay_cache (encounter_id TEXT PRIMARY KEY REFERENCES encounter (id), made_by"
       " TEXT NOT NULL, performance TEXT NOT NULL, sheet TEXT NOT NULL, made_ms BIGINT NOT NULL)"},
      {// 4: ability tests
       "CREATE TABLE ability_test (id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person"
       " (id), seed TEXT NOT NULL, bank TEXT NOT NULL, started_ms BIGINT NOT NULL, ended_ms BIGINT"
       " NOT NULL, end_reason TEXT NOT NULL)",
       "CREATE INDEX ability_test_by_person ON ability_test (person_id, started_ms)",
       "CREATE TABLE ability_item (test_id TEXT NOT NULL REFERENCES ability_test (id), position"
       " BIGINT NOT NULL, id TEXT NOT NULL UNIQUE, mode TEXT NOT NULL, skill TEXT NOT NULL,"
       " kind_position BIGINT NOT NULL, detail TEXT NOT NULL, asked_ms BIGINT NOT NULL, answered"
       " TEXT NOT NULL, is_right BIGINT NOT NULL, answered_ms BIGINT NOT NULL,"
       " PRIMARY KEY (test_id, position))"},
      {// 5: what a class practises
       "ALTER TABLE class_group ADD COLUMN drill TEXT NOT NULL DEFAULT ''"},
      {// 6: an audit log that settles what was there before, and whose gaps show
       "ALTER TABLE audit ADD COLUMN was TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE audit ADD COLUMN became TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE audit ADD COLUMN address TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE audit ADD COLUMN address_salt TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE audit ADD COLUMN address_seal TEXT NOT NULL DEFAULT ''",
       "ALTER TABLE audit ADD COLUMN position BIGINT NOT NULL DEFAULT 0",
       "ALTER TABLE audit ADD COLUMN chain TEXT NOT NULL DEFAULT ''",
       "CREATE INDEX audit_open ON audit (at_ms, id) WHERE chain = ''",
       "CREATE UNIQUE INDEX audit_by_position ON audit (position) WHERE position > 0",
       // One row that is written to see whether the store still keeps.
       "CREATE TABLE heartbeat (at_ms BIGINT NOT NULL)", "INSERT INTO heartbeat VALUES (0)"},
      {// 7: rounds
       "CREATE TABLE round (id TEXT PRIMARY KEY, code TEXT NOT NULL UNIQUE, title TEXT NOT NULL,"
       " case_id TEXT NOT NULL, seed TEXT NOT NULL, opened_by TEXT NOT NULL REFERENCES person"
       " (id), created_ms BIGINT NOT NULL, ended_ms BIGINT NOT NULL, reached_take BIGINT NOT NULL,"
       " reached_step BIGINT NOT NULL)",
       "CREATE INDEX round_by_person ON round (opened_by, created_ms)",
       "CREATE TABLE round_person (round_id TEXT NOT NULL REFERENCES round (id), id TEXT NOT NULL,"
       " name TEXT NOT NULL, role TEXT NOT NULL, token_hash TEXT NOT NULL, joined_ms BIGINT NOT"
       " NULL, PRIMARY KEY (round_id, id))",
       "CREATE UNIQUE INDEX round_person_by_token ON round_person (token_hash)",
       "CREATE TABLE round_line (round_id TEXT NOT NULL REFERENCES round (id), person_id TEXT NOT"
       " NULL, n BIGINT NOT NULL, line TEXT NOT NULL, stored_ms BIGINT NOT NULL,"
       " PRIMARY KEY (round_id, person_id, n))"}};
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
      {"class_group", {"id", "title", "instructor_id", "created_ms", "join_code", "drill"}},
      {"class_staff", {"class_id", "person_id", "role"}},
      {"member", {"class_id", "person_id", "extra_time_share", "join_key"}},
      {"station",
       {"id", "class_id", "title", "case_id", "checklist_id", "seed", "join_code", "state",
        "created_ms", "plan", "closed_ms"}},
      {"station_case", {"station_id", "position", "case_id"}},
      {"encounter",
       {"id", "person_id", "station_id", "case_id", "seed", "header", "created_ms", "ended_ms",
        "claim"}},
      {"action", {"encounter_id", "action_id", "position", "line", "stored_ms"}},
      {"drill_answer", {"person_id", "answer_id", "at_ms", "skill", "answered", "slow", "mode"}},
      {"ability_test", {"id", "person_id", "seed", "bank", "started_ms", "ended_ms", "end_reason"}},
      {"ability_item",
       {"test_id", "position", "id", "mode", "skill", "kind_position", "detail", "asked_ms",
        "answered", "is_right", "answered_ms"}},
      {"examiner_mark", {"encounter_id", "examiner_id", "item_id", "points", "note", "at_ms"}},
      {"angoff", {"station_id", "judge_id", "item_id", "chance", "at_ms"}},
      {"round",
       {"id", "code", "title", "case_id", "seed", "opened_by", "created_ms", "ended_ms",
        "reached_take", "reached_step"}},
      {"round_person", {"round_id", "id", "name", "role", "token_hash", "joined_ms"}},
      {"round_line", {"round_id", "person_id", "n", "line", "stored_ms"}},
      {"audit",
       {"id", "at_ms", "actor_id", "event", "subject", "detail", "class_id", "was", "became",
        "address", "address_salt", "address_seal", "position", "chain"}}};
  return all;
}

}  // namespace phren::records
