// How one listens: which side of the chestpiece, and in what surroundings.
//
// Source:  65-70 dB SPL in the cup (Patel 1998); noise levels as in contact.h.
#pragma once

#include <cstddef>

namespace phren::acoustics {

// Normal breathing at the back base at 1 L/s is -30 dBFS and stands for 68 dB SPL in the cup
// (65-70 dB SPL: Patel 1998).
inline constexpr double kFullScale_dbspl = 98.0;

enum class Head { kDiaphragm, kBell, kSensor };  // sensor: flat contact microphone, for measuring
enum class Surroundings { kQuiet, kWard, kStreet, kCabin, kSiren, kHelicopter };
inline constexpr std::size_t kNumSurroundings = 6;

// Of 0 barely touching .. 1 pressed hard: what a hand does that is told nothing else.
inline constexpr double kUsualPressure = 0.6;

// Sound level around, dB(A).
double surroundings_dba(Surroundings place) noexcept;

}  // namespace phren::acoustics
