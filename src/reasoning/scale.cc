#include "reasoning/scale.h"

#include <algorithm>
#include <cmath>

namespace phren::reasoning {
namespace {

using exam::Basis;
using exam::Presence;

constexpr double kNominalShare = 0.5;  // of people with the condition, when nobody printed it
// Teaching judgement carries the doubt of a study of twenty people with and twenty without.
constexpr double kJudgementCount = 20.0;

// How far printed log ratios for an absent finding lie from 0: root of their mean square less their
// own sampling variance, over the rows of published.csv that are weighed (a test works it out
// again). Textbook pictures overstate how constant a sign is, so judged ratios of absence are drawn
// towards 0 by as much as a study of their size would be, given that spread (normal prior, normal
// error); unshrunk expert weights predict poorly (Held 2012, BMC Med Res Methodol 12:99).
constexpr double kPublishedSpreadAbsent = 0.48;

double shown(double share, Presence presence) {
  return presence == Presence::kPresent ? share : 1.0 - share;
}

// Shares with and without the condition behind a printed row; their ratio need not be the printed
// one to the last figure, for pooled values are pooled one by one.
void find_shares(const EvidenceRow& row, Item& item) {
  const auto& plus = row.positive.value;
  const auto& minus = row.negative.value;
  if (row.sensitivity && row.specificity) {
    item.share = *row.sensitivity;
    item.share_rest = 1.0 - *row.specificity;
  } else if (plus && minus && std::abs(*plus - *minus) > 0.02 && (*plus > 1.0) == (*minus < 1.0)) {
    item.share_rest = (1.0 - *minus) / (*plus - *minus);
    item.share = *plus * item.share_rest;
  } else {
    const double ratio = plus ? *plus : minus ? 1.0 / *minus : 1.0;
    item.share = ratio >= 1.0 ? kNominalShare : kNominalShare * ratio;
    item.share_rest = ratio >= 1.0 ? kNominalShare / ratio : kNominalShare;
  }
  item.share = std::clamp(item.share, 0.005, 0.995);
  item.share_rest = std::clamp(item.share_rest, 0.005, 0.995);
}

void cap(Item& item, double ratio) {
  item.ratio = std::clamp(ratio, 1.0 / kMostRatioUsed, kMostRatioUsed);
  item.is_capped = item.ratio != ratio;
  item.log_ratio = std::log(item.ratio);
}

double judgement_variance(double share, Presence presence) {
  const double p =
      shown(std::clamp(share, 0.5 / kJudgementCount, 1.0 - 0.5 / kJudgementCount), presence);
  return (1.0 - p) / (p * kJudgementCount);
}

}  // namespace

double chance_of_second_cause(double age_years) {
  return age_years >= 65.0 ? 0.47 : 0.2;
}

double heard_ratio(double ratio, double r) {
  return 1.0 + r * (ratio - 1.0);
}

Channel moving_vehicle(bool is_report_of_silence) {
  // Brown 1997: present sounds heard in 10 %, absent ones reported in 2 %; silence is the reverse.
  return is_report_of_silence ? Channel{0.98, 0.90} : Channel{0.10, 0.02};
}

Scale::Scale(const Knowledge& knowledge, const Observations& known, const WeighOptions& options,
             std::string_view setting)
    : knowledge_(knowledge), known_(known), options_(options), setting_(setting) {
  for (const auto& condition : knowledge.conditions) {
    priors_.push_back(knowledge.priors.of(setting, condition.id, known.age_years));
  }
  priors_.push_back(knowledge.priors.of(setting, "other", known.age_years));
  for (const Prior& prior : priors_) weight_.push_back(prior.probability);
  const FrequencyTable& shares = knowledge.engineering;
  mixed_.assign(knowledge.findings.all().size(), 0.0);
  mixed_weight_ = mixed_;
  for (std::size_t f = 0; f < mixed_.size(); ++f) {
    if (!shares.has(f)) continue;
    const std::string& of = knowledge.findings[f].of;
    const auto base = of.empty() ? std::nullopt : knowledge.findings.index_of(of);
    for (std::size_t c = 0; c < weight_.size(); ++c) {
      const double w = weight_[c] * (base ? shares.share(*base, c) : 1.0);
      mixed_[f] += w * shares.share(f, c);
      mixed_weight_[f] += w;
    }
  }
}

const EvidenceRow* Scale::published(std::size_t condition, std::size_t finding,
                                    Presence presence) const {
  for (const std::size_t r : knowledge_.weighed[condition][finding]) {
    const EvidenceRow& row = knowledge_.published[r];
    if (!speaks_of(row, presence, known_.age_years)) continue;
    const auto& only = row.settings;
    if (!only.empty() && std::find(only.begin(), only.end(), setting_) == only.end()) continue;
    if (!row.requires_finding.empty()) {
      const auto needed = knowledge_.findings.index_of(row.requires_finding);
      if (!needed || known_.by_finding[*needed].presence != Presence::kPresent) continue;
    }
    return &row;
  }
  return nullptr;
}

std::optional<Item> Scale::item(std::size_t condition, std::size_t finding,
                                Presence presence) const {
  // A row with its own limit is read against the vital sign itself when that was taken.
  for (const Presence state : {Presence::kPresent, Presence::kAbsent}) {
    const EvidenceRow* row = published(condition, finding, state);
    if (row == nullptr) continue;
    bool applies = state == presence;
    const auto value = row->cut ? vital_value(known_.vitals, row->cut->vital) : std::nullopt;
    if (value) {
      applies =
          holds(*value, row->cut->comparison, row->cut->limit) == (state == Presence::kPresent);
    }
    if (applies) return from_published(*row, state, finding);
  }
  if (options_.published_only || !knowledge_.engineering.has(finding)) return std::nullopt;
  return from_engineering(condition, finding, presence);
}

Item Scale::from_published(const EvidenceRow& row, Presence presence, std::size_t finding) const {
  Item item;
  item.row = &row;
  find_shares(row, item);
  const Ratio& ratio = presence == Presence::kPresent ? row.positive : row.negative;
  cap(item, *ratio.value);
  if (ratio.lo && ratio.hi && *ratio.lo > 0.0) {
    item.sd = std::log(*ratio.hi / *ratio.lo) / (2.0 * 1.96);
  } else {
    item.sd = kAssumedSd;
    item.is_interval_assumed = true;
  }
  weaken(item, finding, presence);
  return item;
}

Item Scale::from_engineering(std::size_t condition, std::size_t finding, Presence presence) const {
  const FrequencyTable& shares = knowledge_.engineering;
  Item item;
  item.share = shares.share(finding, condition);
  const std::string& of = knowledge_.findings[finding].of;
  const double own =
      weight_[condition] *
      (of.empty() ? 1.0 : shares.share(*knowledge_.findings.index_of(of), condition));
  item.share_rest = (mixed_[finding] - own * item.share) / (mixed_weight_[finding] - own);
  item.share_rest = std::clamp(item.share_rest, 0.005, 0.995);
  const double second = chance_of_second_cause(known_.age_years) * item.share_rest;
  if (!knowledge_.conditions[condition].alone) item.share += (1.0 - item.share) * second;
  item.share_rest += (1.0 - item.share_rest) * second;
  const double judged = std::log(shown(item.share, presence) / shown(item.share_rest, presence));
  const double variance =
      judgement_variance(item.share, presence) + judgement_variance(item.share_rest, presence);
  constexpr double kSpread = kPublishedSpreadAbsent * kPublishedSpreadAbsent;
  const double weight = presence == Presence::kPresent ? 1.0 : kSpread / (kSpread + variance);
  cap(item, std::exp(weight * judged));
  item.sd = std::sqrt(weight * variance);
  item.is_interval_assumed = true;
  weaken(item, finding, presence);
  return item;
}

// Two listeners agree with kappa when each follows the sign with chance sqrt(kappa) and else
// guesses. A program that reads sound is trusted no more than an expert's ear. Monitors have no
// kappa; what they are unsure of is in the confidence.
double Scale::reliability(std::size_t finding) const {
  const Observation& o = known_.by_finding[finding];
  const double sure = std::clamp(2.0 * o.confidence - 1.0, 0.0, 1.0);
  const bool unknown = o.presence == Presence::kUnknown;
  const Basis basis = unknown ? knowledge_.findings[finding].found_by : o.basis;
  if (basis == Basis::kMonitored || basis == Basis::kMeasured) return unknown ? 1.0 : sure;
  const double agreed = std::sqrt(std::max(0.0, knowledge_.agreement.of(finding).kappa));
  return unknown ? agreed : agreed * sure;
}

void Scale::weaken(Item& item, std::size_t finding, Presence presence) const {
  const FindingInfo& info = knowledge_.findings[finding];
  const Observation& o = known_.by_finding[finding];
  const Basis basis = o.presence == Presence::kUnknown ? info.found_by : o.basis;
  const double r = reliability(finding);
  const double heard = heard_ratio(item.ratio, r);
  const double slope = r * item.ratio / heard;  // of log heard on log ratio
  item.share = item.share_rest + r * (item.share - item.share_rest);
  item.log_ratio = std::log(heard);
  item.sd *= slope;
  if (options_.surroundings == Surroundings::kMovingVehicle && basis == Basis::kHeard &&
      !info.afar) {
    const Channel road = moving_vehicle(info.silence);
    const auto pass = [&](double p) {
      return road.false_alarm + (road.hit - road.false_alarm) * p;
    };
    const double before = std::log(shown(item.share, presence) / shown(item.share_rest, presence));
    item.share = pass(item.share);
    item.share_rest = pass(item.share_rest);
    const double now = std::log(shown(item.share, presence) / shown(item.share_rest, presence));
    const double left =
        std::abs(before) < 1e-3 ? road.hit - road.false_alarm : std::clamp(now / before, 0.0, 1.0);
    item.log_ratio *= left;
    item.sd *= left;
  }
  const double given = std::log(item.ratio);
  item.reliability = std::abs(given) < 1e-9 ? r : std::clamp(item.log_ratio / given, 0.0, 1.0);
}

}  // namespace phren::reasoning
