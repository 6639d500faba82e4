// The next best look: which unexamined finding would tell most.
//
// Source:  expected information is the mutual information of the finding and each condition
//          (Shannon entropy of the posterior before, minus its expectation after), summed.
#pragma once

#include <vector>

#include "reasoning/scale.h"
#include "reasoning/types.h"

namespace phren::reasoning {

// `ranking` in the order of knowledge.conditions. Only cheap bedside looks are offered.
std::vector<Look> best_looks(const Scale& scale, const std::vector<RankedCondition>& ranking,
                             const std::vector<Threat>& threats, const WeighOptions& options);

}  // namespace phren::reasoning
