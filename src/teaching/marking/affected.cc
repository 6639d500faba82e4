#include "teaching/marking/affected.h"

#include <algorithm>

namespace phren::teaching {

exam::Side affected_side(const patient::PatientSetup& setup,
                         const patient::Conditions& conditions) {
  for (const patient::ConditionUse& use : setup.conditions) {
    const auto condition = conditions.find(use.id);
    if (!condition) continue;
    const bool has_side = condition->needs_side || condition->default_lobe >= 0;
    if (!has_side) continue;
    if (use.side != exam::Side::kMidline) return use.side;
    const int lobe = use.lobe >= 0 ? use.lobe : condition->default_lobe;
    if (lobe >= 0) return exam::side_of(static_cast<exam::Lobe>(lobe));
    if (condition->default_side != exam::Side::kMidline) return condition->default_side;
  }
  return exam::Side::kMidline;
}

std::vector<std::string> conditions_of(const patient::PatientSetup& setup) {
  std::vector<patient::ConditionUse> uses = setup.conditions;
  std::stable_sort(uses.begin(), uses.end(), [](const auto& a, const auto& b) {
    return std::max(a.severity, a.severity_later) > std::max(b.severity, b.severity_later);
  });
  std::vector<std::string> out;
  for (const patient::ConditionUse& use : uses) out.push_back(use.id);
  if (out.empty()) out.push_back("healthy");
  return out;
}

}  // namespace phren::teaching
