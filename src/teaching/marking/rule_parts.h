// The rules by subject, and what they share; rules.h is what others see.
#pragma once

#include <string>
#include <vector>

#include "teaching/marking/rules.h"

namespace phren::teaching {

Judgement judge_listened_at(const ChecklistItem& item, const bedside::Performance& p);
Judgement judge_listened_pairs(const ChecklistItem& item, const bedside::Performance& p,
                               const exam::SiteMap& sites);
Judgement judge_compared_sides(const ChecklistItem& item, const bedside::Performance& p,
                               const exam::SiteMap& sites);
Judgement judge_exposed_first(const bedside::Performance& p);
Judgement judge_deep_breaths(const bedside::Performance& p);
Judgement judge_reassessed(const ChecklistItem& item, const bedside::Performance& p);

// First treatment of the list that was given, or nullptr.
const bedside::TimedDeed* first_treatment(const bedside::Performance& p,
                                          const std::vector<std::string>& ids);
// "oxygen or bronchodilator"
std::string alternatives(const std::vector<std::string>& ids);

}  // namespace phren::teaching
