// An answer in the drill, as it is kept and as the memory lives it again.
//
// Units:   time in ms since 1970 UTC.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace phren::teaching {

struct PastAnswer {
  std::string item_id, mode, skill, answered;  // mode: the kind; answered: as remembered
  bool slow = false;
  std::int64_t at_ms = 0;
};
using PastAnswers = std::vector<PastAnswer>;  // in the order in which they were given

// How often one person was right with one kind of question.
struct AnswerTally {
  std::string person_id, mode, skill;
  long long answers = 0, right = 0;
};

}  // namespace phren::teaching
