// Combining findings that are not independent: in each correlated group the strongest counts
// fully, each further one is shrunk. A finding in several groups takes the smallest weight.
#pragma once

#include <string>
#include <vector>

#include "reasoning/findings.h"
#include "reasoning/types.h"

namespace phren::reasoning {

// How often each correlated group was used so far; findings are taken strongest first.
class GroupCounts {
 public:
  explicit GroupCounts(const FindingTable& table) : counts_(table.num_groups(), 0) {}
  int take(const FindingInfo& info);  // the rank of this finding in its fullest group, 0 first

 private:
  std::vector<int> counts_;
};
double shrunk(double shrink, int rank);  // shrink^rank

// Sorts by strength (ties by id, so order in never matters), then sets shrink and scales log_odds
// and sd.
void combine(std::vector<Contribution>& contributions, const FindingTable& table, double shrink);

// Sum of the shrunk log-odds if `added` joined contributions that went through combine().
struct Weighted {
  double log_odds = 0.0;  // before shrink
  std::size_t finding = 0;
};
double total_with(const std::vector<Weighted>& sorted, const Weighted& added,
                  const FindingTable& table, double shrink);

}  // namespace phren::reasoning
