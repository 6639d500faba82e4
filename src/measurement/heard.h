// Which sounds of the trade's list were heard in one recording; private to this room.
//
// Source:  wheeze and rhonchus by the CORSA gates (tonal.h), parted at 300 Hz; crackles by count a
//          breath and two-cycle duration (transients.h). The trained labels confirm or veto what is
//          near the gates; how they are weighed is our choice (docs/validation/measurement.md).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "measurement/types.h"

namespace phren::measurement {

struct HeardSound {
  exam::Sound sound = exam::Sound::kNormal;
  double confidence = 0.5;
  std::optional<exam::Phase> phase;  // if nearly all of it is in one phase
  std::string words;                 // "wheeze 412 Hz, 62 % of expiration"
};

std::vector<HeardSound> heard_sounds(const RecordingMeasurement& m, const exam::Site& site);

}  // namespace phren::measurement
