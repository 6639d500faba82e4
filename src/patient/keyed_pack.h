// A packed patient (config.h) under a key of its own, for a page in which the patient is a question.
//
// Shapes:  number 0 is the format (2), number 1 carries the key, all others are hidden by it; the length
//          is a multiple of 1024, so that neither bytes nor length are those of a patient that anybody can
//          see. unpack() reads it like any other.
// Safety:  the key travels with the numbers: who runs the page under a debugger can undo it, as he can
//          watch the patient itself. It keeps the answer from whoever only looks at what was sent.
#pragma once

#include <cstdint>
#include <vector>

#include "patient/config.h"

namespace phren::patient {

// `key`: new for each encounter.
std::vector<double> pack_keyed(const PatientConfig& config, std::uint64_t key);

}  // namespace phren::patient
