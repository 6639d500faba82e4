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

Result<RuleEntry> read_entry(const toml::table& row, const std::string& here,
                             const FindingTable& table) {
  RuleEntry entry;
  if (auto ok = fill_texts(row, here + ": item", {{"label", &entry.label}}); !ok) {
    return fail(ok.error());
  }
  entry.one_of = row["one_of"].value_or(std::string());
  auto lines = lines_of(row["when"].as_array(), here + ": item '" + entry.label + "'", table);
  if (!lines) return fail(lines.error());
  entry.when = std::move(*lines);
  if (const auto* levels = row["levels"].as_array()) {
    for (const auto& node : *levels) entry.levels.push_back(node.value_or(0.0));
  } else {
    entry.levels = {0.0, row["points"].value_or(0.0)};
  }
  if (entry.levels.size() < 2 || entry.levels[0] != 0.0 || entry.levels.back() == 0.0) {
    return fail(ErrorCode::kInvalidArgument,
                here + ": item '" + entry.label + "': needs points other than 0, or levels from 0");
  }
  return entry;
}

Result<RuleBand> read_band(const toml::table& row, const std::string& here) {
  RuleBand band;
  if (auto ok = fill_texts(row, here + ": band", {{"label", &band.label}}); !ok) {
    return fail(ok.error());
  }
  const auto at_least = row["at_least"].value<double>();
  if (!at_least) return fail(ErrorCode::kMalformed, here + ": a band needs at_least");
  band.at_least = *at_least;
  band.ratio = row["ratio"].value<double>();
  band.probability = row["probability"].value<double>();
  if (band.probability && !(*band.probability >= 0.0 && *band.probability <= 1.0)) {
    return fail(at(here, out_of_range("probability", *band.probability, "between 0 and 1")));
  }
  return band;
}

Result<Rule> read_rule(const toml::table& row, const std::string& place,
                       const FindingTable& table) {
  Rule rule;
  RuleResult& w = rule.words;
  if (auto ok = fill_texts(row, place,
                           {{"id", &w.id},
                            {"label", &w.label},
                            {"about", &w.about},
                            {"source", &w.source},
                            {"status", &w.status}});
      !ok) {
    return fail(ok.error());
  }
  const std::string here = place + ": rule " + w.id;
  w.note = row["note"].value_or(std::string());
  const auto kind = parse_kind(row["kind"].value_or(std::string_view()));
  if (!kind) return fail(at(here, kind.error()));
  rule.kind = *kind;
  rule.intercept = row["intercept"].value_or(0.0);
  auto applies = lines_of(row["applies"].as_array(), here + ": applies", table);
  if (!applies) return fail(applies.error());
  rule.applies = std::move(*applies);
  const auto* items = row["item"].as_array();
  if (items == nullptr) return fail(ErrorCode::kMalformed, here + ": needs items");
  for (const auto& node : *items) {
    const auto* item = node.as_table();
    if (item == nullptr) return fail(ErrorCode::kMalformed, here + ": item: not a table");
    auto entry = read_entry(*item, here, table);
    if (!entry) return fail(entry.error());
    rule.entries.push_back(std::move(*entry));
  }
  if (const auto* bands = row["band"].as_array()) {
    for (const auto& node : *bands) {
      const auto* text = node.as_table();
      if (text == nullptr) return fail(ErrorCode::kMalformed, here + ": band: not a table");
      auto band = read_band(*text, here);
      if (!band) return fail(band.error());
      if (!rule.bands.empty() && band->at_least >= rule.bands.back().at_least) {
        return fail(ErrorCode::kInvalidArgument, here + ": bands must run from highest to lowest");
      }
      rule.bands.push_back(std::move(*band));
    }
  }
  return rule;
}

}  // namespace

Result<std::vector<Rule>> read_rules(std::string_view toml_text, std::string_view file_name,
                                     const FindingTable& table) {
  std::vector<Rule> rules;
  const auto status = for_each_row(toml_text, file_name, "rule",
                                   [&](const toml::table& row, const std::string& here) -> Status {
                                     auto rule = read_rule(row, here, table);
                                     if (!rule) return fail(rule.error());
                                     rules.push_back(std::move(*rule));
                                     return {};
                                   });
  if (!status) return fail(status.error());
  return rules;
}

}  // namespace phren::reasoning
