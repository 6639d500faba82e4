// A measured recording as one line of JSON, the format of docs/formats/measurement.md.
//
// Errors:  none; values that are not numbers become null.
#pragma once

#include <string>
#include <string_view>

#include "measurement/types.h"

namespace phren::measurement {

// No line break at the end. `recording` is the file's name without folder and extension.
std::string to_json(const RecordingMeasurement& measurement, std::string_view recording);

}  // namespace phren::measurement
