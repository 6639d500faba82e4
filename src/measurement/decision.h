// How the judges are weighed: log-probabilities of each judge times its weight, plus a bias per
// label, through a softmax. The numbers are fitted on patients none of the judges has seen
// (training/blend.py) and live in model/decision.json.
//
// Errors:  load() names the file and the field that is missing or of the wrong length.
#pragma once

#include <filesystem>
#include <span>
#include <vector>

#include "base/result.h"
#include "measurement/types.h"

namespace phren::measurement {

struct Weighing {
  std::vector<double> weights;  // one for each judge
  std::vector<double> bias;     // one for each label
  // `judges` are probabilities, label by label; returns probabilities.
  std::vector<double> weigh(std::span<const std::span<const double>> judges) const;
};

struct Decision {
  Weighing event, event_fast;    // judges: network, trees; trees
  Weighing record, record_fast;  // judges: network, rule over events; rule over events
  static Result<Decision> load(const std::filesystem::path& path);
};

}  // namespace phren::measurement
