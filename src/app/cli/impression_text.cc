#include "app/cli/impression_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <ostream>

#include "app/cli/table.h"
#include "reasoning/threats.h"

namespace phren::app {
namespace {

using exam::Presence;
namespace r = phren::reasoning;

constexpr std::size_t kMostRanked = 6;
constexpr std::size_t kMostReasons = 4;

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
  std::string out;
  for (const auto& part : parts) out += (out.empty() ? "" : between) + part;
  return out;
}

// The first few of `parts`; the rest as a number.
std::string first_few(const std::vector<std::string>& parts) {
  constexpr std::size_t kMost = 4;
  if (parts.size() <= kMost) return joined(parts, ", ");
  return joined({parts.begin(), parts.begin() + kMost}, ", ") +
         fmt::format(" and {} more", parts.size() - kMost);
}

void print_threats(const std::vector<r::Threat>& threats, std::ostream& out) {
  out << "What could kill first (by rule, whatever the odds)\n";
  bool any = false;
  for (const r::Threat& t : threats) {
    if (!t.is_named) continue;
    any = true;
    out << "  ! " << t.label << ": " << t.grounds.front();
    if (t.grounds.size() > 1) out << fmt::format(" (and {} more grounds)", t.grounds.size() - 1);
    out << "\n      " << t.why << " (" << r::standing_in_words(t) << ")\n";
  }
  if (!any) out << "  none named by what was found so far\n";
  std::string open;
  for (const r::Threat& t : threats) {
    if (t.is_named) continue;
    open +=
        fmt::format("{}{} ({})", open.empty() ? "" : "; ", t.label, first_few(t.settle_in_words));
  }
  if (!open.empty()) out << "  not excluded yet; look for: " << open << '\n';
}

// "+1.9 wheeze" with a mark for figures that are not published, or from memory.
std::string reason(const r::Contribution& c) {
  const bool judged = c.standing == r::Standing::kEngineering;
  return fmt::format("{:+.1f} {}{}{}", c.log_odds, c.presence == Presence::kAbsent ? "no " : "",
                     c.label,
                     judged                               ? "*"
                     : c.standing == r::Standing::kMemory ? "~"
                                                          : "");
}

void print_ranking(const r::Impression& impression, std::ostream& out) {
  out << "\nWhat it could be (each on its own against everything else; no sum to 100 %)\n";
  Table table({"condition", ">before", ">after", "95 % interval", "why (log-odds)"});
  std::size_t count = 0;
  for (const r::RankedCondition& c : impression.ranking) {
    if (count++ == kMostRanked) break;
    std::vector<std::string> reasons;
    for (const r::Contribution& contribution : c.contributions) {
      if (reasons.size() < kMostReasons) reasons.push_back(reason(contribution));
    }
    table.row({c.label, percent_text(c.prior), percent_text(c.posterior),
               percent_text(c.posterior_lo) + " to " + percent_text(c.posterior_hi),
               joined(reasons, ", ")});
  }
  table.print(out);
  out << "  * teaching judgement, not published   ~ published, figure from memory\n";
}

void print_looks(const std::vector<r::Look>& looks, std::ostream& out) {
  if (looks.empty()) return;
  out << "\nWhere to look next (most told per second first)\n";
  Table table({"look", ">seconds", ">bits", "points to most by", "about", "could name"});
  for (const r::Look& look : looks) {
    table.row({look.how, fmt::format("{:.0f}", look.seconds), fmt::format("{:.2f}", look.bits),
               look.label, look.for_condition, joined(look.would_name, ", ")});
  }
  table.print(out);
}

std::string rule_result(const r::RuleResult& rule) {
  if (rule.probability && rule.band.empty()) return percent_text(*rule.probability);
  std::string text = rule.lowest == rule.highest
                         ? fmt::format("{:g}", rule.lowest)
                         : fmt::format("{:g} to {:g}", rule.lowest, rule.highest);
  if (!rule.band.empty()) text = rule.band + " (" + text + ")";
  return text;
}

void print_rules(const std::vector<r::RuleResult>& rules, std::ostream& out) {
  if (rules.empty()) return;
  out << "\nPublished rules on the same findings (a range where items were not looked at)\n";
  Table table({"rule", "result", "about", "status"});
  for (const r::RuleResult& rule : rules) {
    const bool is_open_model = rule.band.empty() && !rule.probability;
    table.row({rule.label,
               is_open_model && rule.lowest != rule.highest ? "items missing" : rule_result(rule),
               rule.about, rule.status.substr(0, rule.status.find(';'))});
  }
  table.print(out);
}

void print_sayings(const std::vector<r::Saying>& sayings, std::ostream& out) {
  if (sayings.empty()) return;
  out << "\nRules of thumb beside the evidence\n";
  for (const r::Saying& s : sayings) {
    out << "  \"" << s.says << "\"  Evidence agrees: " << s.agrees << ". " << s.evidence << " ("
        << s.source << "; " << s.status << ")\n";
  }
}

}  // namespace

std::string percent_text(double probability) {
  if (probability <= r::kLowestShown) return fmt::format("below {:g} %", 100 * r::kLowestShown);
  if (probability >= r::kHighestShown) return fmt::format("above {:g} %", 100 * r::kHighestShown);
  return fmt::format("{:.{}f} %", 100 * probability, probability < 0.1 ? 1 : 0);
}

void print_impression(const reasoning::Impression& impression, std::ostream& out) {
  for (const auto& remark : impression.remarks) out << "Note: " << remark << '\n';
  if (!impression.remarks.empty()) out << '\n';
  print_threats(impression.threats, out);
  print_ranking(impression, out);
  print_looks(impression.looks, out);
  print_rules(impression.rules, out);
  print_sayings(impression.sayings, out);
  out << "\nTraining aid: explains findings, diagnoses nobody. Local protocols and medical "
         "direction "
         "decide.\n";
}

}  // namespace phren::app
