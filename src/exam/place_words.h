// Where a place of the skin is, in the words one uses at a bedside: side, rib space or vertebra, line.
//
// Errors:  none.
// Source:  rib spaces and lines as taught; they follow the coordinates of data/sites.toml (ours, +/- 2 cm).
#pragma once

#include <string>

#include "exam/types.h"

namespace phren::exam {

inline constexpr double kSkinReach = 2.0;  // no skin of the torso lies farther out, in u or v

// The middle 8 % of the half breadth is the midline.
Side side_of(const TorsoPoint& point);
// The same place on the other side.
TorsoPoint mirrored(const TorsoPoint& point);
// "right, 5th rib space, midclavicular line"; "left back, level of T8, scapular line"
std::string in_words(const TorsoPoint& point);

}  // namespace phren::exam
