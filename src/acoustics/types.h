// What acoustics says it has put into the sound: the key that travels with every specimen.
#pragma once

#include <optional>

#include "exam/types.h"

namespace phren::acoustics {

enum class Region {
  kRul,
  kRml,
  kRll,
  kLul,
  kLll,
  kUpperAirway,
  kTrachea,
  kHeart,
  kPleura,
  kRoom,
  kContact,
  kGut
};

// One sound event at the chestpiece. Times are patient time.
struct TruthEvent {
  exam::Sound sound = exam::Sound::kNormal;
  exam::Phase phase = exam::Phase::kInspiration;
  Region region = Region::kRul;
  double start_s = 0.0;
  double end_s = 0.0;
  double pitch_hz = 0.0;                   // tonal sounds: fundamental at the middle; else 0
  double initial_deflection_ms = 0.0;      // crackles: IDW at the source, before any filter
  double two_cycle_ms = 0.0;               // crackles: 2CD at the source
  double level_above_background_db = 0.0;  // at this point of the chest, now
  bool audible = true;                     // by the masking estimate
};

}  // namespace phren::acoustics
