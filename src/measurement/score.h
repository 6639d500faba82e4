// How well predictions agree with expert labels: the published scores of the open database, event
// detection, Poor Quality and calibration, each with an interval over patients.
//
// Shapes:  items carry the patient, because patients, not recordings, are the independent units:
// the
//          bootstrap draws patients with replacement.
// Errors:  load_* name the file, line and field.
// Source:  SE is the share of adventitious items with exactly the right class, SP the share of
// Normal
//          items called Normal, AS their mean, HS their harmonic mean, Score = (AS + HS) / 2, over
//          all items together; Poor Quality is in neither (the organisers' submission document for
//          model validation, v4, VERIFIED). Detection: intersection over union of at least 0.5, one
//          to one, the best overlap first (general practice).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "measurement/types.h"

namespace phren::measurement {

struct Scores {
  double sensitivity = 0.0, specificity = 0.0;
  double average() const { return 0.5 * (sensitivity + specificity); }
  double harmonic() const;
  double score() const { return 0.5 * (average() + harmonic()); }
};

enum class Task {
  kEventBinary,
  kEventClasses,
  kRecordMerged,
  kRecordClasses
};  // 1-1, 1-2, 2-1, 2-2
inline constexpr std::size_t kNumTasks = 4;

struct Span {
  double start_s = 0.0, end_s = 0.0;
  EventLabel label = EventLabel::kNormal;
};

struct ScoredRecording {
  std::string recording, patient;
  RecordLabel truth = RecordLabel::kNormal, guess = RecordLabel::kNormal;
  double poor_probability = 0.0;
  std::vector<Span> true_events;         // as the experts drew them
  std::vector<Span> given_events;        // the same stretches as labelled by the prediction
  std::vector<double> given_confidence;  // of the label chosen
  std::vector<Span> found_events;        // as the prediction drew them
};

Scores score_of(Task task, const std::vector<ScoredRecording>& recordings);

struct Detection {
  double precision = 0.0, recall = 0.0, f1 = 0.0;
  std::size_t num_true = 0, num_found = 0;
};
// Any breath event, whatever its label.
Detection detection_of(const std::vector<ScoredRecording>& recordings);
// Only events of one label; a match must have that label on both sides.
Detection detection_of(const std::vector<ScoredRecording>& recordings, EventLabel label);

struct PoorQuality {
  double recall = 0.0, precision = 0.0;
  std::size_t num_true = 0, num_called = 0;
};
PoorQuality poor_quality_of(const std::vector<ScoredRecording>& recordings);

// Expected calibration error of the given events' labels: ten equal-width bins of confidence.
double calibration_error(const std::vector<ScoredRecording>& recordings);

// 2.5th and 97.5th percentile of the score when patients are drawn anew, with their recordings.
struct Interval {
  double low = 0.0, high = 0.0;
};
Interval patient_interval(Task task, const std::vector<ScoredRecording>& recordings,
                          std::size_t num_draws = 1000, std::uint64_t seed = 1);

}  // namespace phren::measurement
