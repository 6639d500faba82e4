// One recording at one place of a breathing patient: samples and truth, in the time of the
// recording.
//
// Errors: kInvalidArgument naming the field for a rate or a length out of range.
#pragma once

#include <vector>

#include "acoustics/chestpiece.h"
#include "base/random.h"
#include "base/result.h"
#include "patient/patient.h"
#include "signal/audio.h"
#include "signal/labels.h"
#include "teaching/case.h"

namespace phren::app {

struct RecordingOptions {
  double seconds = 12.0;           // 0.5 .. 3600
  double sample_rate_hz = 8000.0;  // 4000 .. 192000
  acoustics::Head head = acoustics::Head::kDiaphragm;
};

struct Recording {
  signal::Audio audio;
  std::vector<acoustics::TruthEvent> truth;  // start_s and end_s from the start of the recording
};

// `patient` is a copy and runs on from where it is. The same patient, place, options and `seed`
// give the same samples.
Result<Recording> record_at(patient::Patient patient, const exam::TorsoPoint& point,
                            const teaching::Case& prepared, const RecordingOptions& options,
                            Seed seed);

// "wheeze, out, right lower lobe, 412 Hz" with "(not audible)" where the masking estimate says so.
std::vector<signal::Label> labels_of(const std::vector<acoustics::TruthEvent>& truth);
// The same by kind of sound and phase, one line each: what, how often, pitch range, how well heard.
std::vector<std::string> truth_in_words(const std::vector<acoustics::TruthEvent>& truth);

}  // namespace phren::app
