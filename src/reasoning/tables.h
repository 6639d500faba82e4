// The smaller tables beside the published evidence: conditions, teaching-judgement frequencies,
// priors by setting and age, how well listeners agree, and what one can do to find out more.
//
// Units:   probabilities 0..1 in memory, per cent in the files; ages in years; kappa -1..1;
// seconds. Errors:  kMalformed or kInvalidArgument naming file, line, column, value and range.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "base/csv.h"
#include "base/result.h"
#include "reasoning/arithmetic.h"
#include "reasoning/evidence.h"
#include "reasoning/findings.h"

namespace phren::reasoning {

struct ConditionInfo {
  std::string id, label, meaning;
  bool can_kill_soon = false;
  bool alone = false;  // by its meaning never together with another
};
Result<std::vector<ConditionInfo>> read_conditions(const CsvTable& table);

// Of people with a condition, the share that shows a finding: teaching judgement, never published.
class FrequencyTable {
 public:
  static Result<FrequencyTable> read(const CsvTable& table,
                                     const std::vector<ConditionInfo>& conditions,
                                     const FindingTable& findings);
  // REQUIRES: condition < the number of conditions; kOther for people with none of them.
  double share(std::size_t finding, std::size_t condition) const {
    return share_[finding][condition];
  }
  std::size_t other() const { return num_conditions_; }
  bool has(std::size_t finding) const { return !share_[finding].empty(); }

 private:
  std::size_t num_conditions_ = 0;
  std::vector<std::vector<double>> share_;  // [finding][condition, then other]
};

struct Prior {
  double probability = 0.0;  // after the age factor
  double printed = 0.0;      // as in the table for the setting
  double age_odds_factor = 1.0;
  std::string source, doi, status, note;
  Standing standing = Standing::kEngineering;
};

class PriorTable {
 public:
  static Result<PriorTable> read(const CsvTable& priors, const CsvTable& age_factors,
                                 const std::vector<ConditionInfo>& conditions);
  std::vector<std::string> settings() const;
  bool has_setting(std::string_view setting) const;
  // Condition "other" is people breathless for another reason. REQUIRES: has_setting(setting).
  Prior of(std::string_view setting, std::string_view condition_id, double age_years) const;

 private:
  struct AgeFactor {
    double from_years, to_years, odds_factor;
  };
  std::map<std::string, std::map<std::string, Prior, std::less<>>, std::less<>> priors_;
  std::map<std::string, std::vector<AgeFactor>, std::less<>> age_factors_;
};

struct Agreement {
  double kappa = 0.5;
  std::string source, status;
  Standing standing = Standing::kEngineering;
};

// Kappa for each finding, by its own row or by how it is found.
class AgreementTable {
 public:
  static Result<AgreementTable> read(const CsvTable& table, const FindingTable& findings);
  const Agreement& of(std::size_t finding) const { return by_finding_[finding]; }

 private:
  std::vector<Agreement> by_finding_;
};

// One thing to do at the bedside, the findings that it shows, and how long it takes.
struct LookInfo {
  std::string id, how, source, status;
  double seconds = 0.0;
  std::vector<std::size_t> findings;  // indices of FindingTable; none is in two looks
};
Result<std::vector<LookInfo>> read_looks(const CsvTable& table, const FindingTable& findings);

}  // namespace phren::reasoning
