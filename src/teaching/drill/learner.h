// What a learner's answers in the drill say: what is remembered, what comes next, who is taken for whom. Nothing
// of it is kept: it follows from the answers.
//
// Units:   times in ms since 1970 UTC.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "teaching/drill/drill.h"
#include "teaching/drill/kind.h"
#include "teaching/drill/past_answer.h"

namespace phren::teaching {

double days_of(std::int64_t ms);

// The memory of one kind of question, of these skills of the library.
Drill drill_of(const DrillBook& book, const DrillKind& kind, const std::vector<std::size_t>& skills,
               const PastAnswers& answers, const DrillSettings& settings, Seed seed);

struct SkillStanding {
  std::string mode, id, label;
  std::size_t plays = 0;
  std::optional<double> recall, recent_share, due_in_days;  // none: never practised
  bool is_mastered = false;
};
void describe(Fields& f, SkillStanding& standing);
SkillStanding standing_of(const DrillKind& kind, const Drill& drill, std::size_t index,
                          std::int64_t now_ms);
// Of skills that were practised, and of all for the first kind, the naming of sounds.
std::vector<SkillStanding> standings(const DrillBook& book, const PastAnswers& answers,
                                     std::int64_t now_ms);

// How often each sound (row) was called which (column), when sounds were named.
struct Confusion {
  std::vector<std::string> labels;
  std::vector<std::vector<int>> counts;
};
Confusion confusion_of(const DrillBook& book, const PastAnswers& answers);

// How many of `skills` this learner first met in the last 24 hours, and whether any was met at all.
struct Met {
  int lately = 0;
  bool any = false;
};
Met met_of(const DrillBook& book, const DrillKind& kind, const std::vector<std::size_t>& skills,
           const PastAnswers& answers, std::int64_t now_ms);

}  // namespace phren::teaching
