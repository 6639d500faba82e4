// How the judges are weighed: log-probabilities of each judge times its weight, plus a bias per
// label, through a softmax. The numbers are fitted on patients none of the judges has seen
// (training/weigh.py) and live in model/decision.json.
//
// Errors:  load() names the file and the field that is missing or of the wrong length.
#pragma once

#include <array>
#include <filesystem>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"
#include "measurement/sound_kind.h"
#include "measurement/types.h"

namespace phren::measurement {

struct Weighing {
  std::vector<double> weights;  // one for each judge
  std::vector<double> bias;     // one for each label
  // `judges` are probabilities, label by label; returns probabilities.
  std::vector<double> weigh(std::span<const std::span<const double>> judges) const;
};

// Finds breaths from loudness alone: a linear filter over the level around each frame, then the
// best path through gap and breath. Fitted by training/breaths.py, which defines the inputs.
struct BreathFilter {
  static constexpr std::size_t kTaps = 31, kStep = 4;  // 80 ms apart, in 20 ms frames
  std::vector<double> weights;                         // kTaps, then one for range and one for bias
  double cost = 2.0;                                   // of starting a breath
  std::vector<std::pair<double, double>> find(std::span<const float> level_db) const;
};

struct KindWeighing {            // of one kind of recording
  Weighing event, event_fast;    // judges: network, trees; trees
  Weighing record, record_fast;  // judges: network, rule over events; rule over events
};

struct Decision {
  BreathFilter breath;
  KindModel kind;
  std::array<KindWeighing, kNumRecordingKinds> kinds;
  static Result<Decision> load(const std::filesystem::path& path);
  static Result<Decision> read(std::string_view text, const std::string& name);
};

}  // namespace phren::measurement
