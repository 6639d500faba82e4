// Marks an encounter by a checklist, and says for each mark why.
//
// Errors:  an item that needs what was audible, on a performance that was not replayed, is marked
//          "not judged" and counts neither way; nothing is guessed.
#pragma once

#include <string>
#include <vector>

#include "bedside/performance.h"
#include "exam/sites.h"
#include "teaching/marking/checklist.h"

namespace phren::teaching {

enum class Verdict { kMet, kPartly, kMissed, kNotJudged };

struct ItemMark {
  std::string item_id;
  std::string text;
  Verdict verdict = Verdict::kMissed;
  double points = 0.0;      // earned
  double max_points = 0.0;  // 0 when not judged
  bool critical = false;
  std::string reason;                   // one sentence that names times and places
  std::vector<std::string> action_ids;  // what in the log it rests on
};

struct MarkSheet {
  std::string checklist_id;
  std::vector<ItemMark> items;
  double points = 0.0;
  double max_points = 0.0;
  std::vector<std::string> critical_missed;  // item ids
  bool over_time = false;
  // Passed: no critical item missed, in time, and points at or above the share, if one is set.
  bool passed = false;
};

bool is_over_time(double end_s, const Checklist& checklist, double extra_time_share);

struct MarkOptions {
  double extra_time_share = 0.0;
  exam::Side affected = exam::Side::kMidline;  // of what the patient has (affected_side)
};
MarkSheet mark(const bedside::Performance& performance, const Checklist& checklist,
               const exam::SiteMap& sites, const MarkOptions& options = {});

std::string_view to_string(Verdict value);

}  // namespace phren::teaching
