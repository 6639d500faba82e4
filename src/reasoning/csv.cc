#include "reasoning/csv.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "base/files.h"

namespace phren::reasoning {
namespace {

// Takes one record off the front of `text`; a quoted field may hold commas, quotes and line ends.
struct Reader {
  std::string_view text;
  int line = 1;
  bool unfinished = false;

  std::string quoted() {
    std::string field;
    text.remove_prefix(1);
    while (!text.empty()) {
      const char c = text.front();
      text.remove_prefix(1);
      if (c == '\n') ++line;
      if (c != '"') {
        field += c;
      } else if (!text.empty() && text.front() == '"') {
        field += '"';
        text.remove_prefix(1);
      } else {
        return field;
      }
    }
    unfinished = true;
    return field;
  }

  std::vector<std::string> record() {
    std::vector<std::string> fields(1);
    while (!text.empty()) {
      const char c = text.front();
      if (c == '"' && fields.back().empty()) {
        fields.back() = quoted();
        continue;
      }
      text.remove_prefix(1);
      if (c == '\n') {
        ++line;
        break;
      }
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

Result<CsvTable> CsvTable::parse(std::string_view text, std::string_view file_name) {
  CsvTable table;
  table.file_ = file_name;
  Reader reader{text};
  while (!reader.text.empty()) {
    const int line = reader.line;
    const bool remark = reader.text.front() == '#';
    if (remark) {
      const auto end = reader.text.find('\n');
      reader.text.remove_prefix(end == std::string_view::npos ? reader.text.size() : end + 1);
      ++reader.line;
      continue;
    }
    auto fields = reader.record();
    if (fields.size() == 1 && fields[0].empty()) continue;
    const std::string here = table.file_ + ":" + std::to_string(line);
    if (reader.unfinished) return fail(ErrorCode::kMalformed, here + ": a quote is not closed");
    if (table.columns_.empty()) {
      table.columns_ = std::move(fields);
      continue;
    }
    if (fields.size() != table.columns_.size()) {
      return fail(ErrorCode::kMalformed, here + ": has " + std::to_string(fields.size()) +
                                             " fields; the heading has " +
                                             std::to_string(table.columns_.size()));
    }
    table.rows_.push_back({line, std::move(fields)});
  }
  if (table.columns_.empty()) {
    return fail(ErrorCode::kMalformed, table.file_ + ": is empty; a heading is needed");
  }
  return table;
}

Result<CsvTable> CsvTable::load(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
}

Status CsvTable::require(const std::vector<std::string_view>& names) const {
  for (const auto name : names) {
    if (std::find(columns_.begin(), columns_.end(), name) == columns_.end()) {
      return fail(ErrorCode::kMalformed, file_ + ": the heading needs the column '" +
                                             std::string(name) + "'." +
                                             did_you_mean(name, columns_));
    }
  }
  return {};
}

const std::string& CsvTable::text(std::size_t row, std::string_view column) const {
  static const std::string kNone;
  const auto found = std::find(columns_.begin(), columns_.end(), column);
  if (found == columns_.end()) return kNone;
  return rows_[row].fields[static_cast<std::size_t>(found - columns_.begin())];
}

Result<std::optional<double>> CsvTable::number(std::size_t row, std::string_view column, double low,
                                               double high) const {
  const std::string& cell = text(row, column);
  if (cell.empty()) return std::optional<double>();
  char* end = nullptr;
  const double value = std::strtod(cell.c_str(), &end);
  if (*end != '\0' || !(value >= low && value <= high)) {
    char allowed[80];
    std::snprintf(allowed, sizeof allowed, "a number between %g and %g", low, high);
    return fail(at(place(row), out_of_range(column, cell, allowed)));
  }
  return std::optional(value);
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

}  // namespace phren::reasoning
