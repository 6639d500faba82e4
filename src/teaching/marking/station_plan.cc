#include "teaching/marking/station_plan.h"

namespace phren::teaching {

void describe(Fields& f, StationPlan& plan) {
  constexpr std::size_t kMostCases = 20;
  f.text("title", plan.title, true, 200);
  f.texts("case_ids", plan.case_ids);
  if (f.reads() && (plan.case_ids.empty() || plan.case_ids.size() > kMostCases)) {
    f.note(out_of_range("case_ids", "a list of " + std::to_string(plan.case_ids.size()),
                        "a list of 1 to " + std::to_string(kMostCases) + " ids of cases"));
  }
  f.table("checklist", plan.checklist, true);
  if (f.reads()) plan.time_limit_s = plan.checklist.time_limit_s;
  f.number("time_limit_s", plan.time_limit_s, 0.0, kLongestLimit_s);
  if (f.reads()) plan.checklist.time_limit_s = plan.time_limit_s;
  f.one_of("patients", plan.patients, {"identical", "parallel"});
  f.one_of("admission", plan.admission, {"roster", "open"});
  f.text("instructions", plan.instructions, false, 4000);
  f.flag("shows_words", plan.shows_words);
}

}  // namespace phren::teaching
