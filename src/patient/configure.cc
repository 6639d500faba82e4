// From what a case says to plain numbers.
#include <algorithm>
#include <string>

#include "patient/conditions.h"
#include "patient/config.h"
#include "patient/person.h"

namespace phren::patient {
namespace {

constexpr std::uint8_t kAllLobes = 0x1f, kRightLobes = 0x07, kLeftLobes = 0x18;
constexpr std::uint8_t kLowerLobes = 0x14, kUpperLobes = 0x09;

struct Where {
  std::uint8_t lobes, sides;
};

// The chosen lobe or side as masks; a condition that names none acts on its own default.
Where chosen(const ConditionUse& use, const Condition& condition) {
  int lobe = use.lobe >= 0 ? use.lobe : condition.default_lobe;
  exam::Side side = use.side != exam::Side::kMidline ? use.side : condition.default_side;
  if (use.side != exam::Side::kMidline && use.lobe < 0 && lobe >= 0) {
    // The default lobe on the side that was asked for.
    const bool is_left = use.side == exam::Side::kLeft;
    if (is_left && lobe < 3) lobe = lobe == 0 ? 3 : 4;
    if (!is_left && lobe >= 3) lobe = lobe == 3 ? 0 : 2;
  }
  if (lobe >= 0) {
    const bool is_left = lobe >= 3;
    return {static_cast<std::uint8_t>(1u << lobe), static_cast<std::uint8_t>(is_left ? 2 : 1)};
  }
  if (side == exam::Side::kRight) return {kRightLobes, 1};
  if (side == exam::Side::kLeft) return {kLeftLobes, 2};
  return {kAllLobes, 3};
}

Where masks(Place place, Where here) {
  switch (place) {
    case Place::kChosen:
      return here;
    case Place::kBases:
      return {kLowerLobes, 3};
    case Place::kUpper:
      return {kUpperLobes, 3};
    case Place::kOther:
      return {static_cast<std::uint8_t>(kAllLobes & ~here.lobes),
              static_cast<std::uint8_t>(3 & ~here.sides)};
    case Place::kEverywhere:
      break;
  }
  return {kAllLobes, 3};
}

// A case that gives no course gets the illness's own; mild ones move less.
void natural_course(const ConditionUse& use, const Condition& condition, ActiveCondition& out) {
  out.severity_later = use.severity;
  if (use.is_steady || condition.course_change == 0.0) return;
  const double change =
      condition.course_change * (0.6 + 0.4 * use.severity) * (use.severity > 0.0 ? 1.0 : 0.0);
  const double later = use.severity + change;
  out.severity_later = later < 0.0 ? 0.0 : later > 1.0 ? 1.0 : later;
  out.change_over_s = 60.0 * condition.course_minutes;
}

// The same curve for a person in whom this share of the lesion makes the same clinical grade.
Curve at_grade(const Curve& curve, double share) {
  Curve out;
  for (std::size_t i = 0; i < out.at.size(); ++i) {
    out.at[i] = curve(0.25 * static_cast<double>(i) * share);
  }
  return out;
}

Result<ActiveCondition> activate(const ConditionUse& use, const Conditions& conditions,
                                 const Person& person) {
  const auto condition = TRY(conditions.find(use.id));
  if (!(use.severity >= 0.0 && use.severity <= 1.0)) {
    return fail(at(use.id, out_of_range("severity", use.severity, "between 0 and 1")));
  }
  if (use.severity_later != -1.0 && !(use.severity_later >= 0.0 && use.severity_later <= 1.0)) {
    return fail(at(use.id, out_of_range("severity_later", use.severity_later, "between 0 and 1")));
  }
  if (!(use.change_over_min >= 0.0 && use.change_over_min <= 600.0)) {
    return fail(
        at(use.id, out_of_range("change_over_min", use.change_over_min, "between 0 and 600")));
  }
  if (use.lobe < -1 || use.lobe > 4) {
    return fail(at(use.id, out_of_range("lobe", use.lobe, "one of the five lobes")));
  }
  if (person.age_years < condition.least_age_years || person.age_years > condition.most_age_years) {
    return fail(at(
        use.id, out_of_range("age_years", person.age_years,
                             "within the ages at which this condition is modelled, " +
                                 std::to_string(condition.least_age_years).substr(0, 4) + " to " +
                                 std::to_string(condition.most_age_years).substr(0, 5))));
  }
  const Where here = chosen(use, condition);
  ActiveCondition out;
  out.severity = use.severity;
  out.severity_later = use.severity_later;
  out.change_over_s = use.change_over_min * 60.0;
  if (use.severity_later < 0.0) natural_course(use, condition, out);
  if (condition.begins_minutes_before >= 0.0)
    out.begins_s = -60.0 * condition.begins_minutes_before;
  for (const DataEffect& e : condition.effects) {
    ConditionEffect effect = e.effect;
    effect.curve = at_grade(effect.curve, condition.grade_at(person.age_years));
    const Where where = masks(e.place, here);
    effect.lobes = where.lobes;
    effect.sides = where.sides;
    out.effects.push_back(effect);
  }
  out.facts = condition.facts;
  for (ConditionFact& f : out.facts) {
    if (here.sides == 1) f.side = exam::Side::kRight;
    if (here.sides == 2) f.side = exam::Side::kLeft;
  }
  return out;
}

Result<BegunTreatment> begin(const TreatmentUse& use, const PatientSetup& setup,
                             const Treatments& treatments) {
  BegunTreatment out;
  out.index = TRY(treatments.index_of(use.id));
  const Treatment& known = treatments.all()[static_cast<std::size_t>(out.index)];
  if (known.needs_side && use.side == exam::Side::kMidline) {
    return fail(at(use.id, out_of_range("side", "not given", "right or left for this treatment")));
  }
  if (!(use.minutes_before >= 0.0 && use.minutes_before <= setup.minutes_before)) {
    return fail(at(use.id, out_of_range("minutes_before", use.minutes_before,
                                        "between 0 and the patient's own minutes_before")));
  }
  out.side = use.side;
  out.at_s = -60.0 * use.minutes_before;
  return out;
}

}  // namespace

Result<PatientConfig> configure(const PatientSetup& setup, const Conditions& conditions,
                                const Treatments& treatments) {
  const auto person = TRY(complete(setup.person));
  if (!(setup.minutes_before >= 0.0 && setup.minutes_before <= 60.0)) {
    return fail(out_of_range("minutes_before", setup.minutes_before, "between 0 and 60"));
  }
  PatientConfig config;
  config.person = person;
  config.posture = setup.posture;
  config.before_s = setup.minutes_before * 60.0;
  for (const ConditionUse& use : setup.conditions) {
    auto active = TRY(activate(use, conditions, person));
    config.conditions.push_back(std::move(active));
  }
  for (const Treatment& t : treatments.all()) {
    TreatmentCourse course;
    for (const DataTreatmentEffect& e : t.effects) course.effects.push_back(e.effect);
    config.treatments.push_back(std::move(course));
  }
  for (const TreatmentUse& use : setup.treatments) {
    config.begun.push_back(TRY(begin(use, setup, treatments)));
  }
  std::stable_sort(
      config.begun.begin(), config.begun.end(),
      [](const BegunTreatment& a, const BegunTreatment& b) { return a.at_s < b.at_s; });
  return config;
}

}  // namespace phren::patient
