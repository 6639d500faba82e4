// How the judges are weighed: log-probabilities of each judge times its weight, plus a bias per
// label, through a softmax; for adults a linear judge of named evidence (evidence.h). The numbers
// are fitted on patients none of the judges has seen (training/weigh.py, training/judges.py) and
// live in model/decision.json.
//
// The label is the one that weighs most where normal and ill count alike. Probabilities are then
// brought to what happened among people not seen (`Calibration`), so the label need not be the most
// probable one. A set holds every label that is not less probable than `least_in_set`: so chosen
// that it held the truth for 90 % of people not seen.
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
#include "measurement/segments.h"
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

struct Calibration {
  double scale = 1.0;
  std::vector<double> bias;  // one for each label
  double least_in_set = 0.0;
  std::vector<double> apply(std::span<const double> probabilities) const;
};

// Standardised evidence times weights, a row for each answer; the last number of a row stands alone.
struct LinearJudge {
  std::vector<double> mean, deviation;
  std::vector<std::vector<double>> weights;
  bool is_there() const { return !weights.empty(); }
  std::vector<double> scores(std::span<const double> evidence) const;
};

struct KindWeighing {            // of one kind of recording
  Weighing event, event_fast;    // judges: network, trees; trees
  Weighing record, record_fast;  // judges: network, rule over events; rule over events
  LinearJudge event_judge;       // normal, crackle, wheeze, both: in the place of `event`
  LinearJudge record_judge;      // log-odds of continuous and of crackles: in the place of `record`
  Calibration event_chance, record_chance;
  // `by_network` divides what the judge gives to a sound among its labels.
  std::vector<double> event_by_judge(std::span<const double> evidence,
                                     std::span<const double> by_network) const;
  std::vector<double> record_by_judge(std::span<const double> evidence, double poor) const;
};

struct Decision {
  BreathFilter breath;
  SegmentFinder segments;
  KindModel kind;
  ClipOnModel clip_on;
  std::array<KindWeighing, kNumRecordingKinds> kinds;
  static Result<Decision> load(const std::filesystem::path& path);
  static Result<Decision> read(std::string_view text, const std::string& name);
};

}  // namespace phren::measurement
