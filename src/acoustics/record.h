// A recording at one place of a chest, made by letting the patient breathe while a chestpiece
// listens.
//
// Shapes:  mono samples from the moment the call is made; the patient moves on by that time and a
//          little before it, in which the chestpiece settles on the skin.
// Errors:  kInvalidArgument naming the field and its range.
// Threads: none of its own; the patient belongs to the caller.
#pragma once

#include <functional>
#include <vector>

#include "acoustics/chestpiece.h"
#include "patient/patient.h"

namespace phren::acoustics {

struct RecordingRequest {
  exam::TorsoPoint at;
  double seconds = 15.0;            // > 0, at most 3600
  double sample_rate_hz = 48000.0;  // 4000..192000
  Head head = Head::kDiaphragm;
  double pressure = 0.6;
  double clothing = 0.0;
  Surroundings surroundings = Surroundings::kQuiet;
};

struct Recording {
  double sample_rate_hz = 0.0;
  double start_s = 0.0;  // patient time of the first sample
  std::vector<float> samples;
  std::vector<TruthEvent> events;  // times are patient time: subtract start_s for the recording's
};

// `seed` is the case's: the same patient in the same state gives the same samples.
// `on_progress`, if any, is told the share done, 0..1, about once per second of sound.
Result<Recording> record(patient::Patient& patient, Seed seed, const RecordingRequest& request,
                         const std::function<void(double)>& on_progress = {});

}  // namespace phren::acoustics
