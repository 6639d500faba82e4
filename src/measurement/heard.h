// Which sounds of the trade's list were heard in one recording; private to this room.
//
// Source:  wheeze: a tone above 100 Hz for more than 100 ms (CORSA 2000; tonal.h), here from 300
// Hz.
//          Rhonchus: a low tone of rapidly damped, hence periodic waves that lasts more than 100
//          ms, below 300 Hz (CORSA 2000, from memory; mostly at or below 200 Hz by the American
//          Thoracic Society's older words, second hand), here from 70 Hz. Stridor: a tone over the
//          neck with a fifth or more in inspiration. Crackles: crackle_weighing.h, fine or
//          coarse by two-cycle duration. How far a tone must stand out, and for how long, is our choice
//          (docs/validation/measurement.md).
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
