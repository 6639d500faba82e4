// Which side of the patient the illness is on.
#pragma once

#include "exam/types.h"
#include "patient/conditions.h"
#include "patient/config.h"

namespace phren::teaching {

// Of the first condition that has a side or a lobe; kMidline when none has.
exam::Side affected_side(const patient::PatientSetup& setup, const patient::Conditions& conditions);

// Ids of the conditions, worst first: what a checklist must fit.
std::vector<std::string> conditions_of(const patient::PatientSetup& setup);

}  // namespace phren::teaching
