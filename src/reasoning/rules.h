// Published scores and rules (data/rules.toml) worked out from the same findings as the weighing.
//
// Units:   points as printed; probabilities 0..1.
// Errors:  reading gives kMalformed or kInvalidArgument naming file, line, rule and field.
// Limits:  an item nobody looked at leaves the score a range; a band is named only when both ends
//          of the range lie in it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "reasoning/observe.h"
#include "reasoning/types.h"
#include "reasoning/when.h"

namespace phren::reasoning {

enum class RuleKind { kPoints, kLogistic, kSignedLogistic, kCriteria };

struct RuleEntry {
  std::string label, one_of;
  std::vector<Line> when;      // empty: not among our findings
  std::vector<double> levels;  // 0 first; {0, points} for a plain item
};

struct RuleBand {
  double at_least = 0.0;
  std::string label;
  std::optional<double> ratio, probability;
};

struct Rule {
  RuleResult words;  // id, label, about, source, status, note
  RuleKind kind = RuleKind::kPoints;
  double intercept = 0.0;
  std::vector<Line> applies;
  std::vector<RuleEntry> entries;
  std::vector<RuleBand> bands;  // highest first
};

Result<std::vector<Rule>> read_rules(std::string_view toml_text, std::string_view file_name,
                                     const FindingTable& table);

// The band of a score; null when the rule prints none.
const RuleBand* band_of(const Rule& rule, double points);
// Points of the items chosen by level (0 = none), or the probability for the logistic kinds.
// REQUIRES: one level per entry, within its levels.
double score(const Rule& rule, const std::vector<std::size_t>& levels);
double probability(const Rule& rule, const std::vector<bool>& items);

std::vector<RuleResult> apply_rules(const std::vector<Rule>& rules, const Observations& known);

}  // namespace phren::reasoning
