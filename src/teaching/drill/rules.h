// What a class practises: which kinds of question on which sounds, how many new ones a day, and whether pictures are
// shown. Set by its instructors, obeyed when the next item is chosen.
//
// Errors:  kInvalidArgument naming the field.
// Rules:   who learns in several classes may do what any of them allows.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "teaching/drill/kind.h"

namespace phren::teaching {

struct DrillRules {
  std::set<std::string> modes, skills;  // ids of kinds and of skills
  std::optional<double> new_per_day;    // a whole number; none: as many as the drill would open
  bool sound_only = false;
};
void describe(Fields& f, DrillRules& rules);

DrillRules all_allowed(const DrillBook& book);
// Only known words, and for each kind at least two skills to ask about.
Status check_rules(const DrillBook& book, const DrillRules& rules);
DrillRules together(DrillRules some, const DrillRules& others);
// Skills that the kind may ask about, as indices of the library's.
std::vector<std::size_t> allowed_skills(const DrillBook& book, const DrillKind& kind,
                                        const DrillRules& rules);

}  // namespace phren::teaching
