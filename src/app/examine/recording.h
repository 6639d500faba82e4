// One recording at one place of a breathing patient: samples and truth, in the time of the
// recording.
//
// Errors: kInvalidArgument naming the field for a rate or a length out of range.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
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
  acoustics::Realness realness = acoustics::Realness::kClean;
  std::optional<acoustics::Instrument> instrument;  // in place of `head`
};

// How real, and through what, as a command's words say: `realness` one of clean, classroom,
// patient; `instrument` an id of data/instruments. A chest that is not clean is heard through the
// acoustic stethoscope on the side of `to.head` (kSensor: the contact sensor) unless an instrument
// is named.
Status choose_listening(const std::optional<std::string>& realness,
                        const std::optional<std::string>& instrument,
                        const std::filesystem::path& data_directory, RecordingOptions& to);

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
