#include "teaching/marking/mark.h"

#include <cmath>

#include "teaching/marking/rules.h"

namespace phren::teaching {
namespace {

Verdict verdict_of(const Judgement& j) {
  if (!j.judged) return Verdict::kNotJudged;
  if (j.share >= 1.0 - 1e-9) return Verdict::kMet;
  return j.share > 1e-9 ? Verdict::kPartly : Verdict::kMissed;
}

}  // namespace

bool is_over_time(double end_s, const Checklist& checklist, double extra_time_share) {
  return checklist.time_limit_s > 0.0 && end_s > checklist.time_limit_s * (1.0 + extra_time_share);
}

MarkSheet mark(const bedside::Performance& performance, const Checklist& checklist,
               const exam::SiteMap& sites, const MarkOptions& options) {
  MarkSheet sheet;
  sheet.checklist_id = checklist.id;
  for (const ChecklistItem& item : checklist.items) {
    const Judgement j = judge(item, performance, sites, options.affected);
    ItemMark mark{item.id,
                  item.text,
                  verdict_of(j),
                  j.judged ? item.points * j.share : 0.0,
                  j.judged ? item.points : 0.0,
                  item.critical,
                  j.reason,
                  j.action_ids};
    sheet.points += mark.points;
    sheet.max_points += mark.max_points;
    // A critical item is all or nothing: half of it does not keep a patient safe.
    if (item.critical && j.judged && mark.verdict != Verdict::kMet) {
      sheet.critical_missed.push_back(item.id);
    }
    sheet.items.push_back(std::move(mark));
  }
  sheet.over_time = is_over_time(performance.end_s, checklist, options.extra_time_share);
  sheet.passed = sheet.critical_missed.empty() && !sheet.over_time &&
                 sheet.points >= checklist.pass_share * sheet.max_points - 1e-9;
  return sheet;
}

std::string_view to_string(Verdict value) {
  switch (value) {
    case Verdict::kMet:
      return "met";
    case Verdict::kPartly:
      return "partly";
    case Verdict::kMissed:
      return "missed";
    case Verdict::kNotJudged:
      return "not judged";
  }
  return "unknown";
}

}  // namespace phren::teaching
