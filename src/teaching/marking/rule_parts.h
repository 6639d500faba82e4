// The rules by subject, and what they share; rules.h is what others see.
#pragma once

#include <string>
#include <vector>

#include "teaching/marking/rules.h"

namespace phren::teaching {

// What a rule may look at beside its item.
struct Given {
  const bedside::Performance& p;
  const exam::SiteMap& sites;
  exam::Side affected;
};

// Where and how the chest was listened to (listening_rules.cc).
Judgement judge_listened_at(const ChecklistItem& item, const Given& given);
Judgement judge_listened_aspects(const ChecklistItem& item, const Given& given);
Judgement judge_listened_pairs(const ChecklistItem& item, const Given& given);
Judgement judge_compared_sides(const ChecklistItem& item, const Given& given);
Judgement judge_exposed_first(const Given& given);
Judgement judge_deep_breaths(const Given& given);
// What was named (naming_rules.cc).
Judgement judge_reported(const ChecklistItem& item, const Given& given);
Judgement judge_not_reported(const ChecklistItem& item, const Given& given);
Judgement judge_named(const ChecklistItem& item, const Given& given);
Judgement judge_named_soft_side(const ChecklistItem& item, const Given& given);
Judgement judge_no_wrong_marks(const Given& given);
Judgement judge_ranked(const ChecklistItem& item, const Given& given);
Judgement judge_handed_over(const ChecklistItem& item, const Given& given);
// What was looked for and done (acting_rules.cc).
Judgement judge_measured(const ChecklistItem& item, const Given& given);
Judgement judge_measured_again(const ChecklistItem& item, const Given& given);
Judgement judge_examined(const ChecklistItem& item, const Given& given);
Judgement judge_percussed_pairs(const ChecklistItem& item, const Given& given);
Judgement judge_treated(const ChecklistItem& item, const Given& given);
Judgement judge_reassessed(const ChecklistItem& item, const Given& given);
Judgement judge_no_harm(const ChecklistItem& item, const Given& given);
Judgement judge_positioned(const ChecklistItem& item, const Given& given);
Judgement judge_finished(const ChecklistItem& item, const Given& given);

// Mirrored pairs of sites that were listened to on both sides, least_s each.
std::size_t num_pairs_listened(const Given& given, double least_s);
bool contains(const std::vector<std::string>& list, const std::string& word);
bool in_time(const ChecklistItem& item, double time_s);
// "at 12.0 s" or "at 12.0 s, after the 10.0 s allowed"
std::string when(const ChecklistItem& item, double time_s);
// "oxygen or bronchodilator"
std::string alternatives(const std::vector<std::string>& ids);
// " on the right", or nothing for a treatment or finding without a side.
std::string on_side(exam::Side side);

}  // namespace phren::teaching
