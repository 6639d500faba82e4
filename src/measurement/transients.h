// Crackles: short explosive transients, and their widths.
//
// Units:   ms for widths, seconds from the start of the piece, dB over the local background.
// Errors:  none.
// Source:  IDW is the time from onset to the first baseline crossing, 2CD from onset to the end of
//          the second full cycle, LDW the width of the largest deflection; fine below 10 ms 2CD,
//          coarse from 10 ms (CORSA 2000, from memory; consistent with Piirila 1991 as quoted).
//          All on the signal high-passed at kCrackleHighPass_hz (95 Hz), because the widths move
//          with that corner (Karp 1991, as quoted). Threshold and shape checks are our choice.
// Limits:  crackles closer than 8 ms count as one.
#pragma once

#include <optional>
#include <vector>

#include "measurement/analysis.h"

namespace phren::measurement {

struct TransientGates {
  double min_height_db = 9.0;  // 4 ms energy over the local median
  double min_two_cycle_ms = 1.5;
  double max_two_cycle_ms = 20.0;
};

std::vector<Crackle> find_crackles(const Analysis& analysis, const TransientGates& gates = {});

// Widths of the transient around `at_sample` of a high-passed signal at the work rate; nothing if
// it has no two clear cycles there.
std::optional<Crackle> measure_waveform(std::span<const float> high_passed, std::size_t at_sample);

}  // namespace phren::measurement
