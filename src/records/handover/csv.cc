#include "records/handover/csv.h"

#include <algorithm>
#include <charconv>
#include <optional>
#include <set>

#include "base/csv.h"
#include "base/text.h"
#include "base/utf8.h"

namespace phren::records {
namespace {

bool is_plain_number(std::string_view text) {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size();
}

bool could_run(std::string_view text) {
  return !text.empty() && std::string_view("=+-@\t\r").find(text[0]) != std::string_view::npos &&
         !is_plain_number(text);
}

// A spreadsheet that divides at semicolons or tabs does so inside our quotes as well, because for
// it they do not begin a cell; what would then stand first must not run either.
bool divides_elsewhere(char c) {
  return c == ';' || c == '\t' || c == '\n' || c == '\r';
}
bool could_run_there(std::string_view rest) {
  if (rest.starts_with('\'')) return true;
  const std::size_t first = rest.find_first_not_of(" \"");
  return first != std::string_view::npos &&
         std::string_view("=+-@").find(rest[first]) != std::string_view::npos;
}
std::string guard_inside(std::string_view cell) {
  std::string text;
  for (std::size_t i = 0; i < cell.size(); ++i) {
    text += cell[i];
    if (divides_elsewhere(cell[i]) && could_run_there(cell.substr(i + 1))) text += '\'';
  }
  return text;
}
std::string unguard_inside(std::string_view cell) {
  std::string text;
  for (std::size_t i = 0; i < cell.size(); ++i) {
    text += cell[i];
    if (divides_elsewhere(cell[i]) && i + 1 < cell.size() && cell[i + 1] == '\'') ++i;
  }
  return text;
}

std::string cell_text(const std::string& cell) {
  std::string text = guard_inside(cell);
  if (could_run(cell) || cell.starts_with('\'')) text.insert(0, 1, '\'');
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

}  // namespace

bool could_run_in_spreadsheet(std::string_view text) {
  return could_run(text) || guard_inside(text) != text;
}

std::string to_csv(const CsvRows& rows) {
  std::string text;
  for (const auto& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) text += (i ? "," : "") + cell_text(row[i]);
    text += "\r\n";
  }
  return text;
}

Result<CsvRows> parse_csv(std::string_view text) {
  CsvRows rows;
  for (CsvRow& row : TRY(parse_csv_rows(text, "line"))) {
    for (std::string& cell : row.cells) {
      if (cell.size() > 1 && cell[0] == '\'') cell.erase(0, 1);
      cell = unguard_inside(cell);
    }
    rows.push_back(std::move(row.cells));
  }
  return rows;
}

std::string marks_csv(const std::vector<MarkedLearner>& marked) {
  CsvRows rows{{"learner", "checklist", "item", "text", "critical", "verdict", "points",
                "max_points", "reason"}};
  for (const MarkedLearner& m : marked) {
    for (const teaching::ItemMark& item : m.sheet.items) {
      rows.push_back({m.learner, m.sheet.checklist_id, item.item_id, item.text,
                      item.critical ? "yes" : "no", std::string(teaching::to_string(item.verdict)),
                      number_text(item.points, 2), number_text(item.max_points, 2), item.reason});
    }
  }
  return to_csv(rows);
}

Result<std::vector<RosterEntry>> parse_roster(std::string_view text) {
  const auto rows = TRY(parse_csv(text));
  if (rows.empty()) return fail(ErrorCode::kMalformed, "row 1: the header is missing");
  if (rows.size() - 1 > kMostRosterRows) {
    return fail(
        ErrorCode::kInvalidArgument,
        "a roster has at most " + std::to_string(kMostRosterRows) + " rows; make two classes");
  }
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (const std::string& cell : rows[r]) {
      if (is_utf8(cell)) continue;
      return fail(ErrorCode::kInvalidArgument,
                  "row " + std::to_string(r + 1) +
                      ": has letters that are not UTF-8; save the table as UTF-8 (CSV UTF-8)");
    }
  }
  const auto column = [&](const char* name) -> std::optional<std::size_t> {
    const auto found = std::find(rows.front().begin(), rows.front().end(), name);
    if (found == rows.front().end()) return std::nullopt;
    return static_cast<std::size_t>(found - rows.front().begin());
  };
  const auto login = column("login"), name = column("name"), extra = column("extra_time_percent");
  if (!login || !name) {
    return fail(ErrorCode::kMalformed, "row 1: needs the columns login and name");
  }
  std::vector<RosterEntry> entries;
  std::set<std::string> logins;
  for (std::size_t r = 1; r < rows.size(); ++r) {
    const auto& row = rows[r];
    const std::string where = "row " + std::to_string(r + 1);
    if (row.size() != rows.front().size()) {
      return fail(at(where, out_of_range("number of cells", static_cast<double>(row.size()),
                                         std::to_string(rows.front().size()) + " as in row 1")));
    }
    RosterEntry entry{row[*login], row[*name], 0.0};
    if (entry.login.empty() || entry.name.empty()) {
      return fail(ErrorCode::kMalformed, where + ": login and name must not be empty");
    }
    if (!logins.insert(entry.login).second) {
      return fail(ErrorCode::kInvalidArgument,
                  where + ": login '" + entry.login + "' stands twice");
    }
    if (extra && !row[*extra].empty()) {
      double percent = -1.0;
      const std::string& cell = row[*extra];
      if (is_plain_number(cell)) std::from_chars(cell.data(), cell.data() + cell.size(), percent);
      if (!(percent >= 0.0 && percent <= 300.0)) {
        return fail(
            at(where, out_of_range("extra_time_percent", "'" + cell + "'", "between 0 and 300")));
      }
      entry.extra_time_share = percent / 100.0;
    }
    entries.push_back(std::move(entry));
  }
  return entries;
}

}  // namespace phren::records
