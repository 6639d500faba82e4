// A mark sheet of the log put together with what examiners marked.
//
// Rules:   an item of rule "examiner" takes the mean of all examiners. On any other item an
//          examiner's mark replaces the log's only with a note that says why.
#pragma once

#include <string>
#include <vector>

#include "teaching/marking/checklist.h"
#include "teaching/marking/mark.h"

namespace phren::teaching {

struct GivenMark {
  std::string examiner;  // as the sheet should name them; may be empty
  std::string item_id;
  double points = 0.0;  // 0 .. the item's points
  std::string note;
};

struct JoinedSheet {
  MarkSheet sheet;
  std::vector<bool> by_examiner;  // per item
};
// `passed` is worked out anew, by the checklist's pass_share as it is now.
JoinedSheet join_marks(MarkSheet sheet, const Checklist& checklist,
                       const std::vector<GivenMark>& given);

}  // namespace phren::teaching
