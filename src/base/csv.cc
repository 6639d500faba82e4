#include "base/csv.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "base/files.h"
#include "base/text.h"

namespace phren {
namespace {

// Takes one record off the front of `text`; a quoted field may hold commas, quotes and line ends.
struct Reader {
  std::string_view text;
  int line = 1;
  bool is_unfinished = false;

  char take() {
    const char c = text.front();
    text.remove_prefix(1);
    if (c == '\n') ++line;
    return c;
  }
  void skip_line() {
    while (!text.empty() && take() != '\n') {
    }
  }
  std::string quoted() {
    std::string field;
    take();
    while (!text.empty()) {
      const char c = take();
      if (c != '"') {
        field += c;
      } else if (!text.empty() && text.front() == '"') {
        field += take();
      } else {
        return field;
      }
    }
    is_unfinished = true;
    return field;
  }
  std::vector<std::string> record() {
    std::vector<std::string> fields(1);
    while (!text.empty()) {
      if (text.front() == '"' && fields.back().empty()) {
        fields.back() = quoted();
        continue;
      }
      const char c = take();
      if (c == '\n') break;
      if (c == ',') {
        fields.emplace_back();
      } else if (c != '\r') {
        fields.back() += c;
      }
    }
    return fields;
  }
};

}  // namespace

Result<std::vector<CsvRow>> parse_csv_rows(std::string_view text, std::string_view name,
                                           bool has_remarks) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  std::vector<CsvRow> rows;
  Reader reader{text};
  while (!reader.text.empty()) {
    const char first = reader.text.front();
    if (first == '\n' || reader.text.starts_with("\r\n") || (has_remarks && first == '#')) {
      reader.skip_line();
      continue;
    }
    CsvRow row{reader.line, {}};
    row.cells = reader.record();
    if (reader.is_unfinished) {
      return fail(ErrorCode::kMalformed,
                  std::string(name) + ":" + std::to_string(row.line) + ": a quote is not closed");
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

Result<CsvTable> CsvTable::parse(std::string_view text, std::string_view file_name) {
  CsvTable table;
  table.file_ = file_name;
  table.rows_ = TRY(parse_csv_rows(text, file_name, true));
  if (table.rows_.empty()) {
    return fail(ErrorCode::kMalformed, table.file_ + ": is empty; a heading is needed");
  }
  table.columns_ = std::move(table.rows_.front().cells);
  table.rows_.erase(table.rows_.begin());
  for (std::size_t i = 0; i < table.rows_.size(); ++i) {
    if (table.rows_[i].cells.size() == table.columns_.size()) continue;
    return fail(ErrorCode::kMalformed,
                table.place(i) + ": has " + std::to_string(table.rows_[i].cells.size()) +
                    " fields; the heading has " + std::to_string(table.columns_.size()));
  }
  return table;
}

Result<CsvTable> CsvTable::load(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
}

bool CsvTable::has(std::string_view column) const {
  return std::find(columns_.begin(), columns_.end(), column) != columns_.end();
}

Status CsvTable::require(const std::vector<std::string_view>& names) const {
  for (const auto name : names) {
    if (has(name)) continue;
    return fail(ErrorCode::kMalformed, file_ + ": the heading needs the column '" +
                                           std::string(name) + "'." + did_you_mean(name, columns_));
  }
  return {};
}

const std::string& CsvTable::text(std::size_t row, std::string_view column) const {
  static const std::string kNone;
  const auto found = std::find(columns_.begin(), columns_.end(), column);
  if (found == columns_.end()) return kNone;
  return rows_[row].cells[static_cast<std::size_t>(found - columns_.begin())];
}

Result<std::optional<double>> CsvTable::number(std::size_t row, std::string_view column, double low,
                                               double high) const {
  const std::string& cell = text(row, column);
  if (cell.empty()) return std::optional<double>();
  double value = NAN;
  const char* const last = cell.data() + cell.size();
  const auto [end, error] = std::from_chars(cell.data(), last, value);
  if (error != std::errc() || end != last || !(value >= low && value <= high)) {
    return fail(at(place(row), out_of_range(column, cell,
                                            "a number between " + short_number(low) + " and " +
                                                short_number(high))));
  }
  return std::optional(value);
}

Result<double> CsvTable::needed_number(std::size_t row, std::string_view column, double low,
                                       double high) const {
  const auto value = TRY(number(row, column, low, high));
  if (value) return *value;
  return fail(ErrorCode::kMalformed, place(row) + ": " + std::string(column) + " may not be blank");
}

std::string CsvTable::place(std::size_t row) const {
  return file_ + ":" + std::to_string(rows_[row].line);
}

std::vector<std::string> split(std::string_view text, char separator) {
  std::vector<std::string> parts;
  while (!text.empty()) {
    const auto end = text.find(separator);
    parts.emplace_back(text.substr(0, end));
    if (end == std::string_view::npos) break;
    text.remove_prefix(end + 1);
  }
  return parts;
}

}  // namespace phren
