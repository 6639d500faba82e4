#include "reasoning/weigh.h"

#include <algorithm>
#include <cmath>

#include "exam/setting.h"
#include "reasoning/combine.h"
#include "reasoning/look.h"
#include "reasoning/scale.h"
#include "reasoning/threats.h"

namespace phren::reasoning {
namespace {

using exam::Presence;

// Doubt of a prior as a factor on its odds (95 %): between published series, for teaching
// judgement, and for an age factor other than one. ENGINEERING.
constexpr double kPublishedPriorFactor = 1.5;
constexpr double kJudgedPriorFactor = 3.0;
constexpr double kAgeFactor = 2.0;

double prior_variance(const Prior& prior) {
  const auto square = [](double factor) { return std::pow(std::log(factor) / 1.96, 2); };
  return square(prior.standing == Standing::kEngineering ? kJudgedPriorFactor
                                                         : kPublishedPriorFactor) +
         (prior.age_odds_factor == 1.0 ? 0.0 : square(kAgeFactor));
}

Contribution make_contribution(const FindingInfo& info, Presence presence, const Item& item) {
  Contribution c;
  c.finding_id = info.id;
  c.label = info.label;
  c.presence = presence;
  c.log_odds = item.log_ratio;
  c.sd = item.sd;
  c.ratio = item.ratio;
  c.reliability = item.reliability;
  c.is_capped = item.is_capped;
  c.is_interval_assumed = item.is_interval_assumed;
  if (item.row != nullptr) {
    c.row_id = item.row->id;
    c.source = item.row->source;
    c.doi = item.row->doi;
    c.status = item.row->status;
    c.standing = item.row->standing;
  } else {
    c.source = "teaching judgement";
    c.status = "ENGINEERING";
  }
  return c;
}

double cap_probability(double p) {
  return std::clamp(p, kLowestShown, kHighestShown);
}

void sum_up(RankedCondition& out, const Prior& prior) {
  double variance = prior_variance(prior);
  out.log_odds = log_odds_from_probability(prior.probability);
  for (const Contribution& c : out.contributions) {
    out.log_odds += c.log_odds;
    variance += c.sd * c.sd;
    if (c.standing == Standing::kEngineering) out.engineering_log_odds += c.log_odds;
  }
  out.sd = std::sqrt(variance);
  const double raw = probability_from_log_odds(out.log_odds);
  out.posterior = cap_probability(raw);
  out.is_capped = out.posterior != raw;
  out.posterior_lo = cap_probability(probability_from_log_odds(out.log_odds - 1.96 * out.sd));
  out.posterior_hi = cap_probability(probability_from_log_odds(out.log_odds + 1.96 * out.sd));
  out.published_posterior =
      cap_probability(probability_from_log_odds(out.log_odds - out.engineering_log_odds));
}

RankedCondition weigh_one(const Scale& scale, std::size_t c, double shrink) {
  const Knowledge& k = scale.knowledge();
  const Prior& prior = scale.prior(c);
  RankedCondition out;
  out.id = k.conditions[c].id;
  out.label = k.conditions[c].label;
  out.can_kill_soon = k.conditions[c].can_kill_soon;
  out.prior = prior.probability;
  out.prior_printed = prior.printed;
  out.prior_age_odds_factor = prior.age_odds_factor;
  out.prior_source = prior.source;
  out.prior_status = prior.status;
  for (std::size_t f = 0; f < k.findings.all().size(); ++f) {
    const Presence presence = scale.known().by_finding[f].presence;
    if (presence == Presence::kUnknown) continue;
    if (const auto item = scale.item(c, f, presence)) {
      out.contributions.push_back(make_contribution(k.findings[f], presence, *item));
    } else {
      out.not_known.push_back(k.findings[f].id);
    }
  }
  combine(out.contributions, k.findings, shrink);
  sum_up(out, prior);
  return out;
}

std::vector<Saying> sayings_for(const Knowledge& k, const Observations& known,
                                Surroundings surroundings) {
  std::vector<Saying> out;
  for (const SayingRule& rule : k.sayings) {
    bool says =
        rule.saying.id == "not_heard_on_the_road" && surroundings == Surroundings::kMovingVehicle;
    for (const Line& line : rule.when) says = says || evaluate(line, known) == Truth::kTrue;
    if (says) out.push_back(rule.saying);
  }
  return out;
}

void add_remarks(Impression& out, const Observations& known, const FindingTable& table,
                 const WeighOptions& options) {
  for (const auto& id : known.unknown_ids) {
    out.remarks.push_back("Left out of the weighing: " + table.find(id).error().message);
  }
  if (out.surroundings == Surroundings::kMovingVehicle) {
    out.remarks.push_back(
        "Weighed for a moving vehicle: sounds not heard count for next to nothing.");
  }
  if (options.published_only) {
    out.remarks.push_back(
        "Teaching judgement left out: conditions without published figures stay "
        "near their priors.");
  }
  if (out.age_years < exam::kAdultFrom_years && out.setting == exam::kAdultSetting) {
    out.remarks.push_back(
        "The setting is for adults, the patient is a child; ems_child fits better.");
  }
}

}  // namespace

Result<Impression> weigh(const exam::Examination& examination, const Knowledge& knowledge,
                         const WeighOptions& options) {
  Impression out;
  out.setting = !options.setting.empty()       ? options.setting
                : !examination.setting.empty() ? examination.setting
                                               : exam::setting_for(examination.age_years);
  if (!knowledge.priors.has_setting(out.setting)) {
    std::string all;
    for (const auto& name : knowledge.priors.settings()) all += (all.empty() ? "" : ", ") + name;
    return fail(out_of_range("setting", "'" + out.setting + "'", "one of " + all));
  }
  if (!(options.shrink > 0.0 && options.shrink <= 1.0)) {
    return fail(out_of_range("shrink", options.shrink, "above 0 and at most 1"));
  }
  out.surroundings = options.surroundings;
  out.age_years = examination.age_years;
  const Observations known = observe(examination, knowledge.findings);
  const Scale scale(knowledge, known, options, out.setting);
  for (std::size_t c = 0; c < knowledge.conditions.size(); ++c) {
    out.ranking.push_back(weigh_one(scale, c, options.shrink));
  }
  out.threats = find_threats(knowledge, known);
  out.looks = best_looks(scale, out.ranking, out.threats, options);
  std::sort(out.ranking.begin(), out.ranking.end(),
            [](const RankedCondition& a, const RankedCondition& b) {
              return a.log_odds != b.log_odds ? a.log_odds > b.log_odds : a.id < b.id;
            });
  out.rules = apply_rules(knowledge.rules, known);
  out.sayings = sayings_for(knowledge, known, out.surroundings);
  add_remarks(out, known, knowledge.findings, options);
  return out;
}

}  // namespace phren::reasoning
