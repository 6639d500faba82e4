#include "reasoning/look.h"

#include <algorithm>
#include <cmath>
#include <map>

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

// What one finding would tell, over all conditions.
struct Telling {
  std::size_t finding = 0;
  double bits = 0.0, most_bits = 0.0;
  std::size_t most_about = 0;  // index of the condition
};

Telling telling_of(const Scale& scale, const std::vector<Pan>& pans, std::size_t finding,
                   double weight, double shrink) {
  Telling out;
  out.finding = finding;
  for (std::size_t c = 0; c < pans.size(); ++c) {
    const double bits = weight * information(scale, pans[c], c, finding, shrink);
    out.bits += bits;
    if (bits > out.most_bits) {
      out.most_bits = bits;
      out.most_about = c;
    }
  }
  return out;
}

// All that a look would tell, most telling first: findings still unknown, and on which side they
// are, which can be told only if they are there.
std::vector<Telling> tellings(const Scale& scale, const std::vector<Pan>& pans,
                              const LookInfo& look, double shrink) {
  const FindingTable& table = scale.knowledge().findings;
  std::vector<Telling> out;
  for (const std::size_t f : look.findings) {
    if (scale.known().by_finding[f].presence != Presence::kUnknown) continue;
    out.push_back(telling_of(scale, pans, f, 1.0, shrink));
    for (std::size_t p = 0; p < table.all().size(); ++p) {
      if (table[p].of != table[f].id) continue;
      out.push_back(telling_of(scale, pans, p, chance_present(scale, pans, f), shrink));
    }
  }
  std::sort(out.begin(), out.end(), [](const Telling& a, const Telling& b) {
    return a.bits != b.bits ? a.bits > b.bits : a.finding < b.finding;
  });
  return out;
}

// Chance that at least one finding of the look names each threat that is not named yet.
void expect_threats(const Scale& scale, const std::vector<Pan>& pans,
                    const std::vector<Threat>& threats, const std::vector<Telling>& told,
                    Look& look) {
  std::map<std::string, double> chance_not;
  for (const Telling& t : told) {
    const double chance = chance_present(scale, pans, t.finding);
    for (const auto& id : newly_named(scale, threats, t.finding)) {
      chance_not.emplace(id, 1.0).first->second *= 1.0 - chance;
    }
  }
  for (const ThreatRule& rule : scale.knowledge().threats) {
    const auto found = chance_not.find(rule.threat.id);
    if (found == chance_not.end()) continue;
    look.would_name.push_back(rule.threat.id);
    look.expected_threats += 1.0 - found->second;
  }
}

Look judge(const Scale& scale, const std::vector<RankedCondition>& ranking,
           const std::vector<Pan>& pans, const std::vector<Threat>& threats, const LookInfo& info,
           double shrink) {
  const FindingTable& table = scale.knowledge().findings;
  Look look;
  look.id = info.id;
  look.how = info.how;
  look.source = info.source;
  look.status = info.status;
  look.seconds = info.seconds;
  const auto told = tellings(scale, pans, info, shrink);
  if (told.empty()) return look;
  GroupCounts counts(table);
  for (const Telling& t : told) {
    look.bits += t.bits * shrunk(shrink, counts.take(table[t.finding]));
    if (!table[t.finding].pattern) look.shows.push_back(table[t.finding].label);
  }
  const auto first = std::find_if(told.begin(), told.end(),
                                  [&](const Telling& t) { return !table[t.finding].pattern; });
  look.finding_id = table[first->finding].id;
  look.label = table[first->finding].label;
  look.for_condition = ranking[first->most_about].label;
  look.chance_present = chance_present(scale, pans, first->finding);
  expect_threats(scale, pans, threats, told, look);
  look.score = (look.bits + kBitsPerThreat * look.expected_threats) / look.seconds;
  return look;
}

}  // namespace

std::vector<Look> best_looks(const Scale& scale, const std::vector<RankedCondition>& ranking,
                             const std::vector<Threat>& threats, const WeighOptions& options) {
  const Knowledge& knowledge = scale.knowledge();
  std::vector<Pan> pans;
  for (const RankedCondition& ranked : ranking) {
    pans.push_back(make_pan(ranked, knowledge.findings));
  }
  std::vector<Look> looks;
  for (const LookInfo& info : knowledge.looks) {
    Look look = judge(scale, ranking, pans, threats, info, options.shrink);
    if (!look.shows.empty()) looks.push_back(std::move(look));
  }
  std::sort(looks.begin(), looks.end(), [](const Look& a, const Look& b) {
    return a.score != b.score ? a.score > b.score : a.id < b.id;
  });
  if (looks.size() > options.most_looks) looks.resize(options.most_looks);
  return looks;
}

}  // namespace phren::reasoning
