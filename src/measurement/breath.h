// Breaths from the loudness of a chest recording.
//
// Units:   seconds from the start, breaths/min, dB.
// Errors:  none; what cannot be told is left empty and its confidence is low.
// Source:  method of our own: the rate from the autocorrelation of the broadband level, phases from
// its
//          valleys; inspiration is the louder phase over the chest (6 to 11 dB, Gavriely & Cugell
//          1996 and Kompis 1997, as quoted) and comes after the longer pause. Tones are left out of
//          the level, so that a loud expiratory wheeze does not pass for inspiration.
// Limits:  over the trachea both phases are equally loud, and which is which is a guess (low
//          phase_confidence).
#pragma once

#include <span>

#include "measurement/types.h"

namespace phren::measurement {

// Level per 20 ms frame of the whole recording, kept while it streams by.
struct BreathTrace {
  std::vector<float> broadband_db;
  std::vector<std::array<float, kNumBands>> band_db;
};

Breathing measure_breathing(const BreathTrace& trace);

// The same for a recording of any length: measured two minutes at a time and put together.
class BreathMeter {
 public:
  BreathTrace& trace() { return trace_; }  // where the frames go, one after another
  void measure_when_long();
  Breathing finish();

 private:
  void measure();
  BreathTrace trace_;
  std::size_t first_frame_ = 0;  // of trace_, from the start of the recording
  Breathing whole_;
  std::vector<double> rates_, ratios_;
  std::array<std::array<double, 2>, kNumBands> level_sum_{}, variance_sum_{};
  double weight_ = 0.0, confidence_ = 0.0, phase_confidence_ = 0.0, parts_ = 0.0;
};

}  // namespace phren::measurement
