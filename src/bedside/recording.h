// A recording at one place of a chest: the body breathes on while a chestpiece listens. Samples and
// truth, in the time of the recording.
//
// Errors:  kInvalidArgument naming the field and its range.
// Threads: none of its own.
#pragma once

#include <optional>
#include <vector>

#include "bedside/bedside.h"

namespace phren::bedside {

struct RecordingRequest {
  exam::TorsoPoint at;
  double seconds = 15.0;            // > 0, at most 3600
  double sample_rate_hz = 48000.0;  // 4000..192000
  acoustics::Head head = acoustics::Head::kDiaphragm;
  double pressure = acoustics::kUsualPressure;
  Circumstances around;
  std::optional<acoustics::Instrument> instrument;  // in place of `head`
  acoustics::LayerMix layers;                       // what else sounds; needs an instrument
};

struct Recording {
  double sample_rate_hz = 0.0;
  double start_s = 0.0;  // patient time of the first sample
  std::vector<float> samples;
  std::vector<acoustics::TruthEvent> events;  // from the start of the recording, in order

  double duration_s() const { return static_cast<double>(samples.size()) / sample_rate_hz; }
};

// `body` is a copy and runs on from where it is; the chestpiece settles before the first sample.
// The same body in the same state, place and seed give the same samples.
Result<Recording> record(patient::Patient body, Seed seed, const RecordingRequest& request);

// What the chestpiece gives from now on for `seconds`, after `settle_s` that are left out.
Recording take(Bedside& bedside, double seconds, double settle_s);

}  // namespace phren::bedside
