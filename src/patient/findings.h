// What an examiner would write down from looking, feeling, tapping, asking and the capnogram, as
// findings of data/findings.toml. What is heard through the stethoscope is not here: that is for
// measurement or the learner's ear; nor are limits on single vital signs, which are the reasoning
// room's (take vital_signs_of()).
//
// Errors: none. Bedside items that were looked for and are not there are listed as absent.
#pragma once

#include <vector>

#include "exam/types.h"
#include "patient/signs.h"
#include "patient/types.h"

namespace phren::patient {

std::vector<exam::Finding> findings_of(const Signs& signs, const Monitor& monitor,
                                       const Person& person);
// As a monitor shows them: whole numbers.
exam::VitalSigns vital_signs_of(const Monitor& monitor);

// In words, for pages and reports.
std::string_view to_string(Consciousness value);  // "alert", "answers to voice", ...
std::string_view to_string(Speech value);         // "full sentences", ...
std::string_view to_string(Percussion value);     // "resonant", ...

}  // namespace phren::patient
