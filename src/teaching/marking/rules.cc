#include "teaching/marking/rules.h"

#include <algorithm>

#include "exam/names.h"
#include "teaching/marking/rule_parts.h"
#include "teaching/marking/words.h"

namespace phren::teaching {

bool contains(const std::vector<std::string>& list, const std::string& word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

bool in_time(const ChecklistItem& item, double time_s) {
  return item.within_s <= 0.0 || time_s <= item.within_s;
}

std::string when(const ChecklistItem& item, double time_s) {
  return "at " + seconds_text(time_s) +
         (in_time(item, time_s) ? "" : ", after the " + seconds_text(item.within_s) + " allowed");
}

std::string alternatives(const std::vector<std::string>& ids) {
  std::string text;
  for (std::size_t i = 0; i < ids.size(); ++i) {
    if (i > 0) text += i + 1 == ids.size() ? " or " : ", ";
    text += spaced(ids[i]);
  }
  return text;
}

std::string on_side(exam::Side side) {
  return side == exam::Side::kMidline ? "" : " on the " + std::string(exam::to_string(side));
}

Judgement judge(const ChecklistItem& item, const bedside::Performance& performance,
                const exam::SiteMap& sites, exam::Side affected) {
  const Given given{performance, sites, affected};
  switch (item.rule) {
    case RuleKind::kListenedAt:
      return judge_listened_at(item, given);
    case RuleKind::kListenedAspects:
      return judge_listened_aspects(item, given);
    case RuleKind::kListenedPairs:
      return judge_listened_pairs(item, given);
    case RuleKind::kComparedSides:
      return judge_compared_sides(item, given);
    case RuleKind::kExposedFirst:
      return judge_exposed_first(given);
    case RuleKind::kDeepBreaths:
      return judge_deep_breaths(given);
    case RuleKind::kReported:
      return judge_reported(item, given);
    case RuleKind::kNotReported:
      return judge_not_reported(item, given);
    case RuleKind::kNamedWhatIsThere:
      return judge_named(item, given);
    case RuleKind::kNamedSoftSide:
      return judge_named_soft_side(item, given);
    case RuleKind::kNoWrongMarks:
      return judge_no_wrong_marks(given);
    case RuleKind::kMeasured:
      return judge_measured(item, given);
    case RuleKind::kMeasuredAgain:
      return judge_measured_again(item, given);
    case RuleKind::kExamined:
      return judge_examined(item, given);
    case RuleKind::kPercussedPairs:
      return judge_percussed_pairs(item, given);
    case RuleKind::kTreated:
      return judge_treated(item, given);
    case RuleKind::kReassessed:
      return judge_reassessed(item, given);
    case RuleKind::kNoHarm:
      return judge_no_harm(item, given);
    case RuleKind::kPositioned:
      return judge_positioned(item, given);
    case RuleKind::kRanked:
      return judge_ranked(item, given);
    case RuleKind::kHandedOver:
      return judge_handed_over(item, given);
    case RuleKind::kFinished:
      return judge_finished(item, given);
    case RuleKind::kExaminer:
      return {0.0, false, "The examiner has not marked it.", {}};
  }
  return {};
}

}  // namespace phren::teaching
