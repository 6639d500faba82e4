// Combining findings that are not independent: in each correlated group the strongest counts
// fully, each further one is shrunk. A finding in several groups takes the smallest weight.
#pragma once

#include <string>
#include <vector>

#include "reasoning/findings.h"
#include "reasoning/types.h"

namespace phren::reasoning {

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
