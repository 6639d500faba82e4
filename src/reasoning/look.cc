#include "reasoning/look.h"

#include <algorithm>
#include <cmath>

#include "reasoning/combine.h"
#include "reasoning/threats.h"

namespace phren::reasoning {
namespace {

using exam::Presence;

double entropy_bits(double p) {
  if (p <= 0.0 || p >= 1.0) return 0.0;
  return -(p * std::log2(p) + (1.0 - p) * std::log2(1.0 - p));
}

// One condition as the looks need it: prior log-odds and unshrunk findings, strongest first.
struct Pan {
  double prior_log_odds = 0.0, posterior = 0.0;
  std::vector<Weighted> findings;
};

Pan make_pan(const RankedCondition& ranked, const FindingTable& table) {
  Pan pan;
  pan.prior_log_odds = log_odds_from_probability(ranked.prior);
  pan.posterior = probability_from_log_odds(ranked.log_odds);
  for (const Contribution& c : ranked.contributions) {
    pan.findings.push_back({c.log_odds / c.shrink, *table.index_of(c.finding_id)});
  }
  std::sort(pan.findings.begin(), pan.findings.end(), [](const Weighted& a, const Weighted& b) {
    const double x = std::abs(a.log_odds), y = std::abs(b.log_odds);
    return x != y ? x > y : a.finding < b.finding;
  });
  return pan;
}

double information(const Scale& scale, const Pan& pan, std::size_t condition, std::size_t finding,
                   double shrink) {
  const FindingTable& table = scale.knowledge().findings;
  const auto present = scale.item(condition, finding, Presence::kPresent);
  const auto absent = scale.item(condition, finding, Presence::kAbsent);
  if (!present && !absent) return 0.0;
  const Item& shares = present ? *present : *absent;
  const double p = pan.posterior;
  const double chance = p * shares.share + (1.0 - p) * shares.share_rest;
  double after = 0.0;
  for (const auto& [item, weight] : {std::pair{&present, chance}, std::pair{&absent, 1 - chance}}) {
    const double log_odds =
        *item ? pan.prior_log_odds +
                    total_with(pan.findings, {(*item)->log_ratio, finding}, table, shrink)
              : log_odds_from_probability(p);
    after += weight * entropy_bits(probability_from_log_odds(log_odds));
  }
  return std::max(0.0, entropy_bits(p) - after);
}

// How likely the finding is now, over all conditions by their posteriors and people with none.
double chance_present(const Scale& scale, const std::vector<Pan>& pans, std::size_t finding) {
  const FrequencyTable& shares = scale.knowledge().engineering;
  if (!shares.has(finding)) return 0.5;
  double weight = scale.other_prior(), sum = weight * shares.share(finding, shares.other());
  for (std::size_t c = 0; c < pans.size(); ++c) {
    weight += pans[c].posterior;
    sum += pans[c].posterior * shares.share(finding, c);
  }
  return sum / weight;
}

std::vector<std::string> newly_named(const Scale& scale, const std::vector<Threat>& threats,
                                     std::size_t finding) {
  Observations with = scale.known();
  with.by_finding[finding].presence = Presence::kPresent;
  std::vector<std::string> named;
  for (const ThreatRule& rule : scale.knowledge().threats) {
    const bool is_on = std::any_of(threats.begin(), threats.end(), [&](const Threat& t) {
      return t.id == rule.threat.id && t.is_named;
    });
    if (is_on) continue;
    const bool would = std::any_of(rule.when.begin(), rule.when.end(), [&](const Line& line) {
      return evaluate(line, with) == Truth::kTrue;
    });
    if (would) named.push_back(rule.threat.id);
  }
  return named;
}

Look judge(const Scale& scale, const std::vector<RankedCondition>& ranking,
           const std::vector<Pan>& pans, const std::vector<Threat>& threats, std::size_t finding,
           double shrink) {
  const FindingInfo& info = scale.knowledge().findings[finding];
  Look look;
  look.finding_id = info.id;
  look.label = info.label;
  look.how = info.look;
  look.seconds = info.seconds;
  double most = 0.0;
  for (std::size_t c = 0; c < pans.size(); ++c) {
    const double bits = information(scale, pans[c], c, finding, shrink);
    look.bits += bits;
    if (bits > most) {
      most = bits;
      look.for_condition = ranking[c].label;
    }
  }
  look.chance_present = chance_present(scale, pans, finding);
  look.would_name = newly_named(scale, threats, finding);
  look.expected_threats = look.chance_present * static_cast<double>(look.would_name.size());
  look.score = look.bits + kBitsPerThreat * look.expected_threats;
  return look;
}

}  // namespace

std::vector<Look> best_looks(const Scale& scale, const std::vector<RankedCondition>& ranking,
                             const std::vector<Threat>& threats, const WeighOptions& options) {
  const FindingTable& table = scale.knowledge().findings;
  std::vector<Pan> pans;
  for (const RankedCondition& ranked : ranking) pans.push_back(make_pan(ranked, table));
  std::vector<Look> looks;
  for (std::size_t f = 0; f < table.all().size(); ++f) {
    const FindingInfo& info = table[f];
    if (info.look.empty() || info.pattern) continue;
    if (scale.known().by_finding[f].presence != Presence::kUnknown) continue;
    looks.push_back(judge(scale, ranking, pans, threats, f, options.shrink));
  }
  std::sort(looks.begin(), looks.end(), [](const Look& a, const Look& b) {
    return a.score != b.score ? a.score > b.score : a.finding_id < b.finding_id;
  });
  if (looks.size() > options.most_looks) looks.resize(options.most_looks);
  return looks;
}

}  // namespace phren::reasoning
