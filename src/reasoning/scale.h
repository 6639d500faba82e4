// How much one finding says about one condition, before findings are combined.
//
// A condition is weighed against everything else: a published likelihood ratio where one exists,
// else the ratio of teaching-judgement frequencies, the condition's share over the share among all
// other conditions mixed by their priors. A report is then weakened by how well listeners agree
// and by the surroundings.
//
// Source:  Brown 1997, Ann Emerg Med 29:228 (hearing in a moving ambulance); kappa.csv.
// Limits:  shares behind a ratio printed without sensitivity are assumed (nominal one half).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "reasoning/knowledge.h"

namespace phren::reasoning {

// How a report follows the sign: chance that a sign is reported when there, and when not.
struct Channel {
  double hit = 1.0, false_alarm = 0.0;
};

struct Item {
  double ratio = 1.0;      // as given, capped
  double log_ratio = 0.0;  // after reliability
  double sd = 0.0;         // of log_ratio
  double reliability = 1.0;
  double share = 0.5;       // of people with the condition who show the finding
  double share_rest = 0.5;  // of everybody else
  bool is_capped = false;
  bool is_interval_assumed = false;
  const EvidenceRow* row = nullptr;  // null: teaching judgement
};

class Scale {
 public:
  // REQUIRES: knowledge.priors.has_setting(setting). Keeps references to all three.
  Scale(const Knowledge& knowledge, const Observations& known, const WeighOptions& options,
        std::string_view setting);

  // Nothing where nobody gave a figure (or only teaching judgement did, and it is left out).
  std::optional<Item> item(std::size_t condition, std::size_t finding,
                           exam::Presence presence) const;
  const Prior& prior(std::size_t condition) const { return priors_[condition]; }
  double other_prior() const { return priors_.back().probability; }
  const Knowledge& knowledge() const { return knowledge_; }
  const Observations& known() const { return known_; }

 private:
  const EvidenceRow* published(std::size_t condition, std::size_t finding,
                               exam::Presence presence) const;
  Item from_published(const EvidenceRow& row, exam::Presence presence, std::size_t finding) const;
  Item from_engineering(std::size_t condition, std::size_t finding, exam::Presence presence) const;
  double reliability(std::size_t finding) const;
  void weaken(Item& item, std::size_t finding, exam::Presence presence) const;

  const Knowledge& knowledge_;
  const Observations& known_;
  const WeighOptions& options_;
  std::string setting_;
  std::vector<Prior> priors_;  // by condition, then other
  std::vector<double> weight_;
  std::vector<double> mixed_, mixed_weight_;  // by finding: sum of prior x share, and of prior
};

// Chance that a second cause is there too, which may show a finding whatever the first one does: 47
// % of the over-65s in respiratory failure (Ray 2006, Crit Care 10:R82), less in the young
// (ENGINEERING).
double chance_of_second_cause(double age_years);
// The listener follows the sign with chance r and else reports at the usual rate: 1 + r (ratio -
// 1).
double heard_ratio(double ratio, double r);
// In a moving vehicle little is heard, so a report of a sound is rare and a report of silence
// cheap.
Channel moving_vehicle(bool is_report_of_silence);

}  // namespace phren::reasoning
