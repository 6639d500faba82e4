#include "records/dump.h"

#include <soci/soci.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/json_text.h"
#include "records/dump_end.h"
#include "records/migrations.h"

namespace phren::records {
namespace {

using Json = nlohmann::ordered_json;

bool is_number(const std::string& column) {
  return column.ends_with("_ms") || column.ends_with("position") || column == "slow" ||
         column == "is_right";
}
bool is_real(const std::string& column) {
  return column == "points" || column == "extra_time_share" || column == "chance";
}

std::string joined(const std::vector<std::string>& words, const std::string& before) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : ", ") + before + word;
  return text;
}

Json cell_of(const soci::row& row, std::size_t i, const std::string& column) {
  if (is_number(column)) return row.get<long long>(i);
  if (is_real(column)) return row.get<double>(i);
  return row.get<std::string>(i);
}

using Columns = std::vector<std::string>;

// Appends each row of `table` that `where` picks; `id` fills its one placeholder, if it has one.
void dump_rows(soci::session& sql, const TableShape& table, const std::string& where,
               const std::string& id, std::string& text, const Columns& left_out = {}) {
  const std::string query = "SELECT " + joined(table.columns, "") + " FROM " + table.name + where +
                            " ORDER BY " + table.columns[0] + ", " + table.columns[1];
  const auto add = [&](const soci::rowset<soci::row>& rows) {
    for (const soci::row& row : rows) {
      Json line{{"table", table.name}};
      for (std::size_t i = 0; i < table.columns.size(); ++i) {
        const std::string& column = table.columns[i];
        if (!id.empty() && column == "password_hash") continue;
        if (std::find(left_out.begin(), left_out.end(), column) != left_out.end()) continue;
        line[table.columns[i]] = cell_of(row, i, table.columns[i]);
      }
      // A store made before text was checked may hold bytes that are not UTF-8.
      text += line.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
    }
  };
  if (id.empty()) {
    add(sql.prepare << query);
  } else {
    add((sql.prepare << query, soci::use(id)));
  }
}

// The table with those of its columns that this store has.
TableShape as_it_is(soci::session& sql, Backend backend, const TableShape& table) {
  const soci::rowset<std::string> rows =
      backend == Backend::kSqlite
          ? (sql.prepare << "SELECT name FROM pragma_table_info(:t)", soci::use(table.name))
          : (sql.prepare << "SELECT CAST(column_name AS TEXT) FROM information_schema.columns WHERE"
                            " table_schema = current_schema() AND table_name = :t",
             soci::use(table.name));
  const std::vector<std::string> names(rows.begin(), rows.end());
  TableShape there{table.name, {}};
  for (const std::string& column : table.columns) {
    if (std::find(names.begin(), names.end(), column) != names.end()) {
      there.columns.push_back(column);
    }
  }
  return there;
}

// Columns that a version later than the dump's has added keep their value of nothing.
Status insert_row(soci::session& sql, const TableShape& table, const Json& line, bool is_old) {
  soci::statement statement(sql);
  std::vector<std::string> texts(table.columns.size());
  std::vector<long long> numbers(table.columns.size());
  std::vector<double> reals(table.columns.size());
  for (std::size_t i = 0; i < table.columns.size(); ++i) {
    const std::string& column = table.columns[i];
    const auto found = line.find(column);
    if (found == line.end() && is_old) {
      if (is_number(column)) {
        statement.exchange(soci::use(numbers[i]));
      } else {
        if (column == "mode") texts[i] = "name";
        if (column == "plan") texts[i] = "{}";
        statement.exchange(soci::use(texts[i]));
      }
      continue;
    }
    const bool fits = found != line.end() && (is_number(column) ? found->is_number_integer()
                                              : is_real(column) ? found->is_number()
                                                                : found->is_string());
    if (!fits)
      return fail(out_of_range(table.name + "." + column, "missing or of another kind",
                               "as docs/formats/dump.md says"));
    if (is_number(column)) {
      numbers[i] = found->get<long long>();
      statement.exchange(soci::use(numbers[i]));
    } else if (is_real(column)) {
      reals[i] = found->get<double>();
      statement.exchange(soci::use(reals[i]));
    } else {
      texts[i] = found->get<std::string>();
      statement.exchange(soci::use(texts[i]));
    }
  }
  statement.alloc();
  statement.prepare("INSERT INTO " + table.name + " (" + joined(table.columns, "") + ") VALUES (" +
                    joined(table.columns, ":") + ")");
  statement.define_and_bind();
  statement.execute(true);
  return {};
}

Status restore_line(soci::session& sql, const std::string& line, bool is_old) {
  const Json json = parse_json<Json>(line);
  if (!json.is_object()) return fail(ErrorCode::kMalformed, "is not one JSON object");
  const std::string name = json.value("table", "");
  for (const TableShape& table : tables()) {
    if (table.name == name) return insert_row(sql, table, json, is_old);
  }
  return fail(out_of_range("table", "'" + name + "'", "a table of docs/formats/dump.md"));
}

}  // namespace

Result<std::string> dump_all(Database& database) {
  const auto version = database.schema_version();
  if (!version) return fail(version.error());
  std::string text = Json{{"phren", "dump"}, {"version", *version}}.dump() + "\n";
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    for (const TableShape& table : tables()) {
      const TableShape there = as_it_is(sql, database.backend(), table);
      if (!there.columns.empty()) dump_rows(sql, there, "", "", text);
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  return text + end_of_dump(text);
}

Status restore_all(Database& database, std::string_view text) {
  const auto facts = check_dump(text);
  if (!facts) return fail(facts.error());
  return database.transact([&](soci::session& sql) -> Status {
    int people = 0;
    sql << "SELECT COUNT(*) FROM person", soci::into(people);
    if (people > 0) {
      return fail(out_of_range("people in the store", people, "0: restore only into an empty one"));
    }
    // What the making of this store has noted gives way to the log of the one restored.
    sql << "DELETE FROM audit";
    std::size_t number = 0;
    for (std::size_t start = 0; start < text.size() && number <= facts->rows;) {
      const std::size_t end = text.find('\n', start);
      const std::string line(text.substr(start, end - start));
      start = end + 1;
      if (++number == 1) continue;
      if (auto ok = restore_line(sql, line, facts->version < newest_version()); !ok) {
        return fail(at("line " + std::to_string(number), ok.error()));
      }
    }
    if (facts->version < 3) {
      sql << "INSERT INTO class_staff (class_id, person_id, role)"
             " SELECT id, instructor_id, 'instructor' FROM class_group";
    }
    return {};
  });
}

Result<std::string> export_person(Database& database, std::string_view person_id,
                                  const ExportLimits& limits) {
  const std::string id(person_id);
  // Ids are made of letters and digits; anything else would have to go through a placeholder.
  if (limits.class_id.find_first_not_of("0123456789abcdef") != std::string::npos) {
    return fail(ErrorCode::kInvalidArgument, "class_id is not an id");
  }
  const std::string in_class =
      limits.class_id.empty() ? "" : " AND class_id = '" + limits.class_id + "'";
  const std::string met =
      limits.class_id.empty()
          ? ""
          : " AND (station_id = '' OR station_id IN (SELECT id FROM station WHERE class_id = '" +
                limits.class_id + "'))";
  const std::string hidden =
      " AND station_id IN (SELECT id FROM station WHERE state <> 'released')";
  const std::string shown =
      " AND station_id NOT IN (SELECT id FROM station WHERE state <> 'released')";
  const std::string may_show = limits.hides_unreleased ? shown : "";
  // A test under way would tell its own answers.
  const std::string ended = limits.hides_unreleased ? " AND ended_ms > 0" : "";
  const std::string of_encounters =
      " WHERE encounter_id IN (SELECT id FROM encounter WHERE person_id = :p" + met;
  std::string text;
  const auto ok = database.transact([&](soci::session& sql) -> Status {
    for (const TableShape& table : tables()) {
      const std::string& name = table.name;
      if (name == "person") {
        dump_rows(sql, table, " WHERE id = :p", id, text);
      } else if (name == "member" || name == "class_staff") {
        dump_rows(sql, table, " WHERE person_id = :p" + in_class, id, text);
      } else if (name == "encounter") {
        dump_rows(sql, table, " WHERE person_id = :p" + met + may_show, id, text);
        if (limits.hides_unreleased) {
          dump_rows(sql, table, " WHERE person_id = :p" + met + hidden, id, text,
                    {"case_id", "header"});
        }
      } else if (name == "drill_answer") {
        dump_rows(sql, table, " WHERE person_id = :p", id, text);
      } else if (name == "ability_test") {
        dump_rows(sql, table, " WHERE person_id = :p" + ended, id, text);
      } else if (name == "ability_item") {
        dump_rows(
            sql, table,
            " WHERE test_id IN (SELECT id FROM ability_test WHERE person_id = :p" + ended + ")", id,
            text);
      } else if (name == "angoff") {
        dump_rows(sql, table, " WHERE judge_id = :p", id, text);
      } else if (name == "action") {
        dump_rows(sql, table, of_encounters + ")", id, text);
      } else if (name == "examiner_mark") {
        dump_rows(sql, table, of_encounters + may_show + ")", id, text);
      }
    }
    return {};
  });
  if (!ok) return fail(ok.error());
  if (text.empty()) return fail(ErrorCode::kNotFound, "person is not in the store");
  return text;
}

}  // namespace phren::records
