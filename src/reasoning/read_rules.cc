#include <array>
#include <cmath>

#include "reasoning/rules.h"
#include "reasoning/toml_rows.h"

namespace phren::reasoning {
namespace {

constexpr std::array<std::pair<std::string_view, RuleKind>, 4> kKinds{
    {{"points", RuleKind::kPoints},
     {"logistic", RuleKind::kLogistic},
     {"signed_logistic", RuleKind::kSignedLogistic},
     {"criteria", RuleKind::kCriteria}}};

Result<RuleKind> parse_kind(std::string_view text) {
  for (const auto& [word, kind] : kKinds) {
    if (word == text) return kind;
  }
  return fail(out_of_range("kind", "'" + std::string(text) + "'",
                           "points, logistic, signed_logistic or criteria"));
}

RuleEntry read_entry(TomlFields& row, const FindingTable& table) {
  RuleEntry entry;
  row.text("label", entry.label, true);
  row.is_called("item '" + entry.label + "'");
  row.text("one_of", entry.one_of);
  read_lines(row, "when", table, entry.when);
  double points = 0.0;
  row.number("points", points, -1000.0, 1000.0);
  entry.levels = {0.0, points};
  if (const auto* levels = row.find("levels")) {
    entry.levels.clear();
    const auto* list = levels->as_array();
    for (std::size_t i = 0; list != nullptr && i < list->size(); ++i) {
      entry.levels.push_back((*list)[i].value_or(0.0));
    }
  }
  if (entry.levels.size() < 2 || entry.levels[0] != 0.0 || entry.levels.back() == 0.0) {
    row.note({ErrorCode::kInvalidArgument, "needs points other than 0, or levels from 0"});
  }
  return entry;
}

void read_band(TomlFields& row, std::vector<RuleBand>& bands) {
  RuleBand band;
  row.text("label", band.label, true);
  row.is_called("band '" + band.label + "'");
  row.number("at_least", band.at_least, -1000.0, 1000.0, true);
  row.number("ratio", band.ratio, 0.0, 1000.0);
  row.number("probability", band.probability, 0.0, 1.0);
  if (!bands.empty() && band.at_least >= bands.back().at_least) {
    row.note({ErrorCode::kInvalidArgument, "bands must run from highest to lowest"});
  }
  bands.push_back(std::move(band));
}

Rule read_rule(TomlFields& row, const FindingTable& table) {
  Rule rule;
  RuleResult& w = rule.words;
  read_texts(row, {{"id", &w.id}});
  row.is_called("rule " + w.id);
  read_texts(
      row,
      {{"label", &w.label}, {"about", &w.about}, {"source", &w.source}, {"status", &w.status}});
  row.text("note", w.note);
  row.word("kind", rule.kind, parse_kind, true);
  row.number("intercept", rule.intercept, -1000.0, 1000.0);
  read_lines(row, "applies", table, rule.applies);
  row.rows(
      "item", [&](TomlFields& item) { rule.entries.push_back(read_entry(item, table)); }, true);
  row.rows("band", [&](TomlFields& band) { read_band(band, rule.bands); });
  return rule;
}

}  // namespace

Result<std::vector<Rule>> read_rules(std::string_view toml_text, std::string_view file_name,
                                     const FindingTable& table) {
  std::vector<Rule> rules;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows("rule", [&](TomlFields& row) { rules.push_back(read_rule(row, table)); }, true);
  }));
  return rules;
}

}  // namespace phren::reasoning
