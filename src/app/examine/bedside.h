// What an examiner sees, feels, taps and asks: from the body, and from what the case tells. What
// the case tells stands before what its conditions bring along.
//
// Errors: none.
#pragma once

#include <vector>

#include "exam/types.h"
#include "patient/patient.h"
#include "teaching/case.h"

namespace phren::app {

std::vector<exam::Finding> bedside_findings(const patient::Patient& patient,
                                            const teaching::Case& prepared);

}  // namespace phren::app
