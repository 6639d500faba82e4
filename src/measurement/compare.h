// Two recordings side by side: how much louder is one than the other, band by band, and how sure.
//
// Units:   dB, first minus second. `sd_db` is the standard error of the difference.
// Errors:  none. Limits: breathing as deep at both sites is assumed; the uncertainty covers only
// the
//          spread from breath to breath plus `placement_sd_db`.
// Source:  healthy mirrored sites differ by 2 to 3 dB (Gavriely & Cugell 1996, as quoted; Tsai
// 2017, as
//          quoted), which is the default of placement_sd_db.
#pragma once

#include <string>

#include "measurement/types.h"

namespace phren::measurement {

struct LevelDifference {
  double difference_db = 0.0;
  double sd_db = 0.0;
  bool is_known = false;  // the phase was heard on both sides
  bool is_clear() const;  // known, and beyond twice its uncertainty
};

struct SideBySide {
  LevelDifference overall;  // inspiration, 150-600 Hz
  std::array<LevelDifference, kNumBands> inspiration, expiration;
};

SideBySide compare(const Breathing& first, const Breathing& second, double placement_sd_db = 2.0);

// "the first is 12 dB softer (+-2 dB) than the second, most of all in 300-600 Hz". Names the two as
// given.
std::string in_words(const SideBySide& comparison, std::string_view first, std::string_view second);
// What such a difference can mean for the sound's way to the skin, one sentence; never what a
// person has. Empty if there is no clear difference.
std::string meaning_in_words(const SideBySide& comparison);

}  // namespace phren::measurement
