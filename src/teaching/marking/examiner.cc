#include "teaching/marking/examiner.h"

#include <algorithm>
#include <cstdio>

namespace phren::teaching {
namespace {

const ChecklistItem* item_of(const Checklist& checklist, const std::string& id) {
  for (const ChecklistItem& item : checklist.items) {
    if (item.id == id) return &item;
  }
  return nullptr;
}

// Whether a person's mark counts, and then the mean of those that do.
bool take_marks(ItemMark& mark, const ChecklistItem& item, const std::vector<GivenMark>& given) {
  double sum = 0.0;
  int count = 0;
  std::string notes;
  for (const GivenMark& one : given) {
    if (one.item_id != item.id) continue;
    if (item.rule != RuleKind::kExaminer && one.note.empty()) continue;
    sum += std::clamp(one.points, 0.0, item.points);
    ++count;
    if (!one.note.empty()) notes += (notes.empty() ? "" : " ") + one.note;
  }
  if (count == 0) return false;
  const std::string log_reason = mark.reason;
  mark.points = sum / count;
  mark.max_points = item.points;
  mark.verdict = mark.points >= item.points - 1e-9 ? Verdict::kMet
                 : mark.points > 1e-9              ? Verdict::kPartly
                                                   : Verdict::kMissed;
  char words[64];
  std::snprintf(words, sizeof words, "%d examiner%s: %.2f of %.2f points.", count,
                count == 1 ? "" : "s", mark.points, mark.max_points);
  mark.reason = words + (notes.empty() ? std::string() : " " + notes);
  if (item.rule != RuleKind::kExaminer) mark.reason += " From the log: " + log_reason;
  return true;
}

}  // namespace

JoinedSheet join_marks(MarkSheet sheet, const Checklist& checklist,
                       const std::vector<GivenMark>& given) {
  JoinedSheet joined;
  sheet.points = sheet.max_points = 0.0;
  sheet.critical_missed.clear();
  for (ItemMark& mark : sheet.items) {
    const ChecklistItem* item = item_of(checklist, mark.item_id);
    joined.by_examiner.push_back(item != nullptr && take_marks(mark, *item, given));
    sheet.points += mark.points;
    sheet.max_points += mark.max_points;
    if (mark.critical && mark.verdict != Verdict::kMet && mark.verdict != Verdict::kNotJudged) {
      sheet.critical_missed.push_back(mark.item_id);
    }
  }
  sheet.passed = sheet.critical_missed.empty() && !sheet.over_time &&
                 sheet.points >= checklist.pass_share * sheet.max_points - 1e-9;
  joined.sheet = std::move(sheet);
  return joined;
}

}  // namespace phren::teaching
