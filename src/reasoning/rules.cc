#include "reasoning/rules.h"

#include <algorithm>
#include <cassert>
#include <map>

#include "reasoning/tables.h"

namespace phren::reasoning {
namespace {

using exam::Presence;

struct Span {
  double low = 0.0, high = 0.0;
};

Truth any_line(const std::vector<Line>& lines, const Observations& known) {
  Truth best = lines.empty() ? Truth::kUnknown : Truth::kFalse;
  for (const Line& line : lines) best = std::max(best, evaluate(line, known));
  return best;
}

Span span_of(const RuleEntry& entry, Truth truth) {
  if (truth == Truth::kFalse) return {};
  const auto [low, high] = std::minmax_element(entry.levels.begin(), entry.levels.end());
  if (truth == Truth::kUnknown) return {*low, *high};
  const double first = entry.levels[1], last = entry.levels.back();
  return {std::min(first, last), std::max(first, last)};
}

// Of items that exclude each other one may count: a true one settles it, else the widest span.
struct OneOf {
  bool is_settled = false;
  Span span;
};

void add_one_of(OneOf& group, Truth truth, const Span& span) {
  if (group.is_settled) return;
  if (truth == Truth::kTrue) {
    group = {true, span};
  } else {
    group.span = {std::min(group.span.low, span.low), std::max(group.span.high, span.high)};
  }
}

double sign_of(const Rule& rule, bool is_present) {
  return is_present ? 1.0 : rule.kind == RuleKind::kSignedLogistic ? -1.0 : 0.0;
}

void name_band(const Rule& rule, RuleResult& out) {
  const RuleBand* low = band_of(rule, out.lowest);
  const RuleBand* high = band_of(rule, out.highest);
  if (low == nullptr || high == nullptr) return;
  if (low == high) {
    out.band = low->label;
    out.ratio = low->ratio;
    out.probability = low->probability;
  } else {
    out.band = "between '" + low->label + "' and '" + high->label + "'";
  }
}

RuleResult apply_rule(const Rule& rule, const Observations& known) {
  RuleResult out = rule.words;
  out.applies = rule.applies.empty() || any_line(rule.applies, known) == Truth::kTrue;
  std::map<std::string, OneOf> groups;
  std::vector<bool> present;
  bool all_known = true;
  for (const RuleEntry& entry : rule.entries) {
    const Truth truth = any_line(entry.when, known);
    const Span span = span_of(entry, truth);
    out.items.push_back({entry.label,
                         truth == Truth::kTrue    ? Presence::kPresent
                         : truth == Truth::kFalse ? Presence::kAbsent
                                                  : Presence::kUnknown,
                         entry.levels.back()});
    present.push_back(truth == Truth::kTrue);
    all_known = all_known && truth != Truth::kUnknown;
    if (!entry.one_of.empty()) {
      add_one_of(groups[entry.one_of], truth, span);
      continue;
    }
    out.lowest += span.low;
    out.highest += span.high;
  }
  for (const auto& [name, group] : groups) {
    out.lowest += group.span.low;
    out.highest += group.span.high;
  }
  const bool is_model = rule.kind == RuleKind::kLogistic || rule.kind == RuleKind::kSignedLogistic;
  if (is_model) {
    if (all_known) out.probability = probability(rule, present);
  } else {
    name_band(rule, out);
  }
  return out;
}

}  // namespace

const RuleBand* band_of(const Rule& rule, double points) {
  for (const RuleBand& band : rule.bands) {
    if (points >= band.at_least) return &band;
  }
  return rule.bands.empty() ? nullptr : &rule.bands.back();
}

double score(const Rule& rule, const std::vector<std::size_t>& levels) {
  assert(levels.size() == rule.entries.size());
  double sum = 0.0;
  for (std::size_t i = 0; i < levels.size(); ++i) sum += rule.entries[i].levels.at(levels[i]);
  return sum;
}

double probability(const Rule& rule, const std::vector<bool>& items) {
  assert(items.size() == rule.entries.size());
  double log_odds = rule.intercept;
  for (std::size_t i = 0; i < items.size(); ++i) {
    log_odds += rule.entries[i].levels.back() * sign_of(rule, items[i]);
  }
  return probability_from_log_odds(log_odds);
}

std::vector<RuleResult> apply_rules(const std::vector<Rule>& rules, const Observations& known) {
  std::vector<RuleResult> out;
  for (const Rule& rule : rules) {
    RuleResult result = apply_rule(rule, known);
    if (result.applies) out.push_back(std::move(result));
  }
  return out;
}

}  // namespace phren::reasoning
