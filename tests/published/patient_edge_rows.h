// The second table of published values for the patient: written down before the second edition of
// the model, from literature that the first edition had not seen. One row is one measure with its
// allowed range; docs/validation/patient.md prints what version 0.1 gave and what holds now.
#pragma once

#include <functional>
#include <string_view>
#include <vector>

#include "patient/patient.h"

namespace phren::patient {

enum class Standing {
  kHolds,  // within the allowed range without having been looked at while choosing sizes
  kTuned,  // sizes of the model were chosen with this row in view
  kOpen,   // not met when last measured: printed, not judged
};

struct EdgeRow {
  std::string_view id, what;
  double low, high;         // what is allowed
  std::string_view source;  // and its status: V seen at its source, M from memory, D derived
  Standing standing;
  std::function<double()> measure;  // NaN: the model has no such thing
};

std::vector<EdgeRow> edge_rows_by_age();
std::vector<EdgeRow> edge_rows_of_treatments();
std::vector<EdgeRow> edge_rows_of_courses();

}  // namespace phren::patient
