#include "measurement/csv.h"

#include <charconv>
#include <cmath>

#include "base/files.h"

namespace phren::measurement {
namespace {

std::vector<std::string> fields_of(std::string_view line) {
  std::vector<std::string> fields(1);
  bool is_quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (line[i] == '"') {
      if (is_quoted && i + 1 < line.size() && line[i + 1] == '"')
        fields.back() += line[++i];
      else
        is_quoted = !is_quoted;
    } else if (line[i] == ',' && !is_quoted) {
      fields.emplace_back();
    } else {
      fields.back() += line[i];
    }
  }
  return fields;
}

}  // namespace

Result<Csv> Csv::parse(std::string_view text, std::string_view name) {
  Csv csv;
  csv.name_ = std::string(name);
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  for (std::size_t number = 1; !text.empty(); ++number) {
    const std::size_t end = text.find('\n');
    std::string_view line = text.substr(0, end);
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    if (line.empty()) continue;
    auto fields = fields_of(line);
    if (csv.headings_.empty()) {
      csv.headings_ = std::move(fields);
      continue;
    }
    if (fields.size() != csv.headings_.size())
      return fail(ErrorCode::kMalformed, csv.name_ + ": line " + std::to_string(number) + " has " +
                                             std::to_string(fields.size()) +
                                             " fields; the heading has " +
                                             std::to_string(csv.headings_.size()));
    csv.rows_.push_back(std::move(fields));
    csv.lines_.push_back(number);
  }
  if (csv.headings_.empty())
    return fail(ErrorCode::kMalformed, csv.name_ + ": is empty; its first line must name columns");
  return csv;
}

Result<Csv> Csv::load(const std::filesystem::path& path) {
  auto text = TRY(read_file(path));
  return parse(text, path.string());
}

Result<std::size_t> Csv::column(std::string_view heading) const {
  std::string there;
  for (std::size_t i = 0; i < headings_.size(); ++i) {
    if (headings_[i] == heading) return i;
    there += (i == 0 ? "" : ", ") + headings_[i];
  }
  return fail(ErrorCode::kMalformed,
              name_ + ": has no column '" + std::string(heading) + "'; it has " + there);
}

Result<double> Csv::number(std::size_t row, std::size_t column) const {
  const std::string& text = rows_[row][column];
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value))
    return fail(ErrorCode::kMalformed, name_ + ": line " + std::to_string(lines_[row]) + ": " +
                                           headings_[column] + " is '" + text +
                                           "'; it must be a number");
  return value;
}

}  // namespace phren::measurement
