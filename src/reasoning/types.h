// What the findings mean, as plain data: the contract of this room on one screen.
//
// Units:   probabilities 0..1, evidence as natural log-odds, information in bits, time as named.
// Source:  each figure carries its own source and standing; docs/validation/reasoning.md has the
//          rules by which they are combined.
// Limits:  a training aid's explanation of findings, never a diagnosis of a living person.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "exam/types.h"
#include "reasoning/evidence.h"

namespace phren::reasoning {

enum class Surroundings { kQuiet, kMovingVehicle };

struct WeighOptions {
  std::string setting;  // "ems_adult", "ems_child", "clinic"; "" = as the examination says
  Surroundings surroundings = Surroundings::kQuiet;
  bool published_only = false;  // leave teaching judgement out altogether
  double shrink = 0.5;          // weight of each further finding of a correlated group; 1 = naive
  std::size_t most_looks = 8;
};

// One finding's push on one condition. log_odds is what was added; the other fields say how.
struct Contribution {
  std::string finding_id, label;
  exam::Presence presence = exam::Presence::kUnknown;
  double log_odds = 0.0;
  double sd = 0.0;           // of log_odds
  double ratio = 1.0;        // likelihood ratio as given, before the two factors below
  double reliability = 1.0;  // listener and surroundings: 0 worthless .. 1 as good as the study's
  double shrink = 1.0;       // because stronger findings of the same group came first
  bool is_capped = false;    // the ratio was cut to kMostRatioUsed
  bool is_interval_assumed = false;
  std::string row_id;  // of published.csv; "" = teaching judgement
  std::string source, doi, status;
  Standing standing = Standing::kEngineering;
};

struct RankedCondition {
  std::string id, label;
  bool can_kill_soon = false;
  double prior = 0.0, prior_printed = 0.0, prior_age_odds_factor = 1.0;
  std::string prior_source, prior_status;
  double posterior = 0.0, posterior_lo = 0.0, posterior_hi = 0.0;  // 95 % interval, capped
  bool is_capped = false;
  double log_odds = 0.0;                    // before the cap; the ranking goes by this
  double sd = 0.0;                          // of log_odds
  double engineering_log_odds = 0.0;        // the part that rests on teaching judgement
  double published_posterior = 0.0;         // without that part, same cap
  std::vector<Contribution> contributions;  // strongest first
  std::vector<std::string> not_known;       // findings looked at that nobody gave a figure for
};

struct Threat {
  std::string id, label, why, source, status;
  double minutes = 0.0;  // order of urgency
  std::vector<std::string> condition_ids;
  bool is_named = false;             // a rule holds; else it could not be excluded yet
  std::vector<std::string> grounds;  // the lines that hold, in words
  std::vector<std::string> settle;   // findings still unknown that would name it, by id
  std::vector<std::string> settle_in_words;
};

// One thing to do at the bedside; `finding_id` is what it tells most by.
struct Look {
  std::string id, how, source, status;  // of looks.csv
  double seconds = 0.0;
  std::string finding_id, label;
  std::vector<std::string> shows;       // labels of all that is still unknown and that it shows
  double bits = 0.0;                    // expected information over all conditions
  double chance_present = 0.0;          // of finding_id, given what is known
  double expected_threats = 0.0;        // expected number of threats newly named
  double score = 0.0;                   // (bits + kBitsPerThreat * expected_threats) per second
  std::string for_condition;            // label of the condition it tells most about
  std::vector<std::string> would_name;  // threats named if any of it is found
};

struct RuleItem {
  std::string label;
  exam::Presence presence = exam::Presence::kUnknown;
  double points = 0.0;  // if present
};

// A published score or rule worked out from the same findings.
struct RuleResult {
  std::string id, label, about, source, status, note;
  bool applies = false;                // the patient belongs to the rule's population
  double lowest = 0.0, highest = 0.0;  // points, over the items nobody looked at
  std::string band;                    // in words, when all that matters is known
  std::optional<double> probability;   // when the rule gives one and it can be worked out
  std::optional<double> ratio;         // printed likelihood ratio of the band
  std::vector<RuleItem> items;
};

struct Saying {
  std::string id, says, agrees, evidence, source, status;
};

struct Impression {
  std::string setting;
  Surroundings surroundings = Surroundings::kQuiet;
  double age_years = 0.0;
  std::vector<RankedCondition> ranking;  // most likely first; each stands alone, no sum to one
  std::vector<Threat> threats;           // most urgent first; named ones before open ones
  std::vector<Look> looks;               // most told per second first
  std::vector<RuleResult> rules;
  std::vector<Saying> sayings;
  std::vector<std::string> remarks;  // what the reader should know about this weighing
};

inline constexpr double kMostRatioUsed = 50.0;  // and its inverse: no single finding does more
inline constexpr double kLowestShown = 0.005;   // posterior shown as "below 0.5 %"
inline constexpr double kHighestShown = 0.98;   // posterior shown as "above 98 %"
inline constexpr double kBitsPerThreat = 0.5;   // worth of naming a threat (ENGINEERING)
inline constexpr double kAssumedSd = 0.3537;    // ln 2 / 1.96: no interval printed (ENGINEERING)

}  // namespace phren::reasoning
