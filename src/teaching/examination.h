// What a learner found in an encounter, as one examination record that other programs can read.
//
// Shapes:  findings are the learner's last reports; vital signs are those taken, as the monitor
//          showed them at that time; places listened to become site records.
// Limits:  needs a replayed performance for the vital signs; without one they stay empty.
#pragma once

#include "bedside/performance.h"
#include "exam/types.h"
#include "teaching/case.h"

namespace phren::teaching {

exam::Examination examination_of(const bedside::Performance& performance, const Case& prepared,
                                 std::uint64_t seed);

}  // namespace phren::teaching
