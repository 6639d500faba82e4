// Comma-separated text, read row by row or by the names of its columns.
//
// Errors:  kMalformed naming file, line, column and what is wrong; kNotFound from reading the file.
// Source:  RFC 4180 (from memory): quotes doubled, line ends inside quotes. Plain LF and a
//          byte-order mark are read as well.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren {

struct CsvRow {
  int line = 1;  // where it begins
  std::vector<std::string> cells;
};
// Empty lines are left out, and with `has_remarks` those that begin with #. Errors begin with
// "NAME:LINE: ".
Result<std::vector<CsvRow>> parse_csv_rows(std::string_view text, std::string_view name,
                                           bool has_remarks = false);

// Rows under a heading. Lines that begin with # are remarks.
class CsvTable {
 public:
  static Result<CsvTable> parse(std::string_view text, std::string_view file_name);
  static Result<CsvTable> load(const std::filesystem::path& file);

  const std::vector<std::string>& columns() const { return columns_; }
  std::size_t num_rows() const { return rows_.size(); }
  bool has(std::string_view column) const;
  // kMalformed naming the file and the column when one of `names` is not in the heading.
  Status require(const std::vector<std::string_view>& names) const;
  // "" for a column the table does not have.
  const std::string& text(std::size_t row, std::string_view column) const;
  // Empty for a blank cell.
  Result<std::optional<double>> number(std::size_t row, std::string_view column, double low,
                                       double high) const;
  // A blank cell is an error.
  Result<double> needed_number(std::size_t row, std::string_view column, double low,
                               double high) const;
  std::string place(std::size_t row) const;  // "published.csv:17"

 private:
  std::string file_;
  std::vector<std::string> columns_;
  std::vector<CsvRow> rows_;
};

// "a;b" as {"a", "b"}; nothing for "".
std::vector<std::string> split(std::string_view text, char separator);

}  // namespace phren
