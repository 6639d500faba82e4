// One function per checklist rule: from what happened to a judgement with its reason.
#pragma once

#include <string>
#include <vector>

#include "bedside/performance.h"
#include "exam/sites.h"
#include "teaching/marking/checklist.h"

namespace phren::teaching {

struct Judgement {
  double share = 0.0;  // 0 missed .. 1 met
  bool judged = true;
  std::string reason;
  std::vector<std::string> action_ids;
};

// `affected`: the side of what the patient has; kMidline if it has none.
Judgement judge(const ChecklistItem& item, const bedside::Performance& performance,
                const exam::SiteMap& sites, exam::Side affected);

// Seconds listened at a site on bare skin or not, from `from_s` on.
double seconds_at(const bedside::Performance& performance, const std::string& site_id,
                  double from_s = 0.0);

}  // namespace phren::teaching
