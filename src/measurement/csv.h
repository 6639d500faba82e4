// Rows of comma-separated text with a heading, read by column name.
//
// Errors:  kMalformed naming the line and what is missing; kNotFound from reading the file.
// Limits:  fields may be quoted ("" for a quote); no line breaks inside fields.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::measurement {

class Csv {
 public:
  static Result<Csv> parse(std::string_view text, std::string_view name);
  static Result<Csv> load(const std::filesystem::path& path);

  std::size_t num_rows() const { return rows_.size(); }
  // Index of a column, or an error naming the columns there are.
  Result<std::size_t> column(std::string_view heading) const;
  const std::string& at(std::size_t row, std::size_t column) const { return rows_[row][column]; }
  Result<double> number(std::size_t row, std::size_t column) const;

 private:
  std::string name_;
  std::vector<std::string> headings_;
  std::vector<std::vector<std::string>> rows_;
  std::vector<std::size_t> lines_;
};

}  // namespace phren::measurement
