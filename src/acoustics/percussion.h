// What a tap on the chest sounds like: how resonant the place under the finger is.
//
// Source:  resonant, dull and hyper-resonant as in the trade; air-filled lung rings low and long,
//          solid tissue and fluid high and short (textbook). Pitches and decays: ENGINEERING.
// Errors:  none; pure functions.
#pragma once

#include <array>

#include "acoustics/listening.h"
#include "acoustics/pings.h"
#include "acoustics/torso.h"
#include "patient/signs.h"

namespace phren::acoustics {

struct Tap {
  patient::Percussion note = patient::Percussion::kResonant;
  double gas = 1.0;  // share of a healthy lung's gas under the finger; 0 solid, 2 gas alone
  std::array<Pings::Note, 3> parts;
};

Tap tap(const Torso& torso, const patient::Person& person, const SkinPoint& skin,
        const patient::Snapshot& now) noexcept;

}  // namespace phren::acoustics
