#include "reasoning/toml_rows.h"

namespace phren::reasoning {

Status for_each_row(std::string_view toml_text, std::string_view file_name, std::string_view name,
                    const std::function<Status(const toml::table&, const std::string&)>& read) {
  const std::string file(file_name);
  toml::table root;
  try {
    root = toml::parse(toml_text, file);
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, file + ":" + std::to_string(error.source().begin.line) +
                                           ": " + std::string(error.description()));
  }
  const auto* rows = root[name].as_array();
  if (rows == nullptr) {
    return fail(ErrorCode::kMalformed, file + ": needs at least one [[" + std::string(name) + "]]");
  }
  for (const auto& node : *rows) {
    const auto* row = node.as_table();
    const std::string here = file + ":" + std::to_string(node.source().begin.line);
    if (row == nullptr) return fail(ErrorCode::kMalformed, here + ": not a table");
    if (Status ok = read(*row, here); !ok) return ok;
  }
  return {};
}

Status fill_texts(const toml::table& row, const std::string& here,
                  std::initializer_list<std::pair<std::string_view, std::string*>> fields) {
  for (const auto& [key, target] : fields) {
    *target = row[key].value_or(std::string());
    if (target->empty()) {
      return fail(ErrorCode::kMalformed, here + ": needs the text field " + std::string(key));
    }
  }
  return {};
}

std::vector<std::string> words_of(const toml::array* list) {
  std::vector<std::string> out;
  if (list != nullptr) {
    for (const auto& node : *list) out.push_back(node.value_or(std::string()));
  }
  return out;
}

Result<std::vector<Line>> lines_of(const toml::array* list, const std::string& here,
                                   const FindingTable& table) {
  std::vector<Line> lines;
  if (list == nullptr) return lines;
  for (const auto& node : *list) {
    auto line = parse_line(words_of(node.as_array()), table);
    if (!line) return fail(at(here, line.error()));
    lines.push_back(std::move(*line));
  }
  return lines;
}

}  // namespace phren::reasoning
