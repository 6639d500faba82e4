// Where the sites are and what was heard there: four line drawings of the chest (right side, front,
// back, left side) with a mark at each site, as one <svg> element.
//
// A mark's size is the breath-sound level; its letters name what was heard (the legend spells them
// out), so nothing is told by colour alone.
#pragma once

#include <string>
#include <vector>

#include "exam/types.h"

namespace phren::app {

struct ChestMark {
  exam::Site site;
  double relative_level_db = 0.0;  // re the loudest site; 0 or below
  bool is_silent = false;          // drawn as an open, dashed ring
  std::string letters;             // "W", "fc"; empty when nothing was added to the breath sound
  std::string description;         // the mark's text alternative
  std::string link;                // target of the mark, "#site-F5"; may be empty
};

std::string chest_map_svg(const std::vector<ChestMark>& marks, const std::string& description);

}  // namespace phren::app
