// Whether the short events of a recording are crackles; private to this room.
//
// A short event by itself does not tell: skin, hair and cloth that crack under a chestpiece have the
// waveform and the width of crackles. So two kinds of evidence are weighed as one.
//
// - What the networks, taught by experts' labels of children's breaths, say of stretches as long as
//   a breath: a crackle comes back with every breath, contact comes in bouts at any time.
// - How many short events are as soft as crackles are and lie apart from a loud one. Contact comes
//   in clusters whose loudest are far louder than any crackle.
//
// Crackles must win against plain breathing and against continuous sounds. Where the pauses are
// silent nothing but the chest sounds, so there every short event counts.
//
// Units:   log-odds; events a second; dB of the height of an event over the recording's median.
// Errors:  none.
// Source:  weights fitted to 1,674 recordings of children with experts' labels, by person; the margin
//          against continuous sounds and the limits in dB and ms are our choice
//          (docs/validation/measurement.md).
#pragma once

#include <vector>

#include "measurement/types.h"

namespace phren::measurement {

struct CrackleWeighing {
  bool are_crackles = false;
  double confidence = 0.0;
  std::vector<Crackle> counted;  // those that count as crackles
};

CrackleWeighing weigh_crackles(const RecordingMeasurement& m);

}  // namespace phren::measurement
