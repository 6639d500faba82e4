// The next best look: which thing to do at the bedside would tell most for the time it takes.
//
// A look shows several findings at once; of one correlated group the most telling counts fully and
// each further one is shrunk, as in weighing. Worth per second, taken greedily.
//
// Source:  expected information is the mutual information of the finding and each condition
//          (Shannon entropy of the posterior before, minus its expectation after), summed;
//          greatest worth per cost first is the classic order of search and repair (Kadane and
//          Simon 1977, Ann Stat 5:237; from memory).
#pragma once

#include <vector>

#include "reasoning/scale.h"
#include "reasoning/types.h"

namespace phren::reasoning {

// `ranking` in the order of knowledge.conditions. Only cheap bedside looks are offered.
std::vector<Look> best_looks(const Scale& scale, const std::vector<RankedCondition>& ranking,
                             const std::vector<Threat>& threats, const WeighOptions& options);

}  // namespace phren::reasoning
