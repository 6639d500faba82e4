// Predictions of `phren measure --json` beside expert labels, ready to be scored.
//
// Errors:  name the file and line, recording and field; a recording without prediction, or with
// another
//          number of given events than labels, is an error.
#pragma once

#include <filesystem>

#include "base/result.h"
#include "measurement/score.h"

namespace phren::measurement {

Result<std::vector<ScoredRecording>> load_predictions(const std::filesystem::path& predictions,
                                                      const std::filesystem::path& recordings_csv,
                                                      const std::filesystem::path& events_csv);

}  // namespace phren::measurement
