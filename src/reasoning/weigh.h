// From one examination to an impression: what is likely, what could kill first, where to look next.
//
// Each condition stands alone against everything else: prior odds times likelihood ratios, in
// log-odds. Of findings in one correlated group the strongest counts fully and the k-th further
// one is multiplied by shrink^k. The interval adds the variances of the log ratios (log-normal), so
// it is exact for that model.
//
// Errors:  kInvalidArgument naming the setting and the known ones.
// Threads: a pure function; same input, same impression.
// Limits:  a teaching explanation of findings, not a diagnosis.
#pragma once

#include "base/result.h"
#include "exam/types.h"
#include "reasoning/knowledge.h"
#include "reasoning/types.h"

namespace phren::reasoning {

Result<Impression> weigh(const exam::Examination& examination, const Knowledge& knowledge,
                         const WeighOptions& options = {});

}  // namespace phren::reasoning
