#include "reasoning/toml_rows.h"

namespace phren::reasoning {

void read_texts(TomlFields& row,
                std::initializer_list<std::pair<std::string_view, std::string*>> fields) {
  for (const auto& [key, target] : fields) row.text(key, *target, true);
}

void read_lines(TomlFields& row, std::string_view key, const FindingTable& table,
                std::vector<Line>& target) {
  const toml::node* node = row.find(key);
  if (node == nullptr) return;
  const auto* list = node->as_array();
  if (list == nullptr) return row.wrong_type(key, *node, "a list of lists of words");
  for (const auto& item : *list) {
    const auto* words = item.as_array();
    if (words == nullptr) return row.wrong_type(key, item, "a list of words");
    std::vector<std::string> texts;
    for (const auto& word : *words) texts.push_back(word.value_or(std::string()));
    auto line = parse_line(texts, table);
    if (!line) return row.note(item, line.error());
    target.push_back(std::move(*line));
  }
}

}  // namespace phren::reasoning
