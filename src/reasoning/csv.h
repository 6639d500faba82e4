// Tables as comma-separated text (RFC 4180), with lines that start with '#' as remarks.
//
// Errors:  kMalformed naming file and line: no heading, a row with too few or too many fields, an
//          unfinished quote. number() names file, line, column, value and range.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::reasoning {

class CsvTable {
 public:
  static Result<CsvTable> parse(std::string_view text, std::string_view file_name);
  static Result<CsvTable> load(const std::filesystem::path& file);

  const std::vector<std::string>& columns() const { return columns_; }
  std::size_t num_rows() const { return rows_.size(); }
  // kMalformed naming the file and the column when one of `names` is not in the heading.
  Status require(const std::vector<std::string_view>& names) const;
  // "" for a column the table does not have.
  const std::string& text(std::size_t row, std::string_view column) const;
  // Empty for a blank cell.
  Result<std::optional<double>> number(std::size_t row, std::string_view column, double low,
                                       double high) const;
  std::string place(std::size_t row) const;  // "published.csv:17"

 private:
  struct Row {
    int line = 0;
    std::vector<std::string> fields;
  };
  std::string file_;
  std::vector<std::string> columns_;
  std::vector<Row> rows_;
};

// "a;b" as {"a", "b"}; nothing for "".
std::vector<std::string> split(std::string_view text, char separator);

}  // namespace phren::reasoning
