#include "teaching/draw/draw.h"

#include <algorithm>
#include <cmath>

#include "bedside/words.h"
#include "exam/setting.h"
#include "patient/person.h"

namespace phren::teaching {
namespace {

using patient::Condition;

template <class List>
const auto& one_of(const List& list, RandomStream& draw) {
  return list[draw.below(static_cast<std::uint32_t>(list.size()))];
}

DrawLimits limits_of(const Draw& draw, const DrawData& data) {
  if (draw.level_id.empty()) return draw.limits;
  DrawLimits out;
  out.age_from_years = 0.0;
  for (const DrawLevel& level : data.levels()) {
    if (level.id != draw.level_id) continue;
    out.conditions = level.conditions;
    out.severity_from = level.severity_from;
    out.severity_to = level.severity_to;
    out.second_chance = level.second_chance;
    out.most_conditions = level.second_chance > 0.0 ? 2 : 1;
    out.rooms = level.rooms;
    out.clothing = level.clothing;
  }
  return out;
}

bool is_taught(const Condition& condition, double from_years, double to_years) {
  return condition.least_age_years <= to_years && condition.most_age_years >= from_years;
}

Result<Condition> first_condition(const DrawLimits& limits, const patient::Conditions& conditions,
                                  RandomStream& draw) {
  std::vector<Condition> taught;
  for (const Condition& one : conditions.all()) {
    const bool is_wanted = limits.conditions.empty() ||
                           std::find(limits.conditions.begin(), limits.conditions.end(), one.id) !=
                               limits.conditions.end();
    if (is_wanted && is_taught(one, limits.age_from_years, limits.age_to_years)) {
      taught.push_back(one);
    }
  }
  if (taught.empty()) {
    return fail(ErrorCode::kInvalidArgument,
                "none of the chosen conditions is taught at ages from " +
                    std::to_string(std::lround(limits.age_from_years)) + " to " +
                    std::to_string(std::lround(limits.age_to_years)) +
                    "; widen the ages or choose other conditions");
  }
  return one_of(taught, draw);
}

// An age at which the condition is taught: whole years from two on.
double age_for(const Condition& condition, const DrawLimits& limits, RandomStream& draw) {
  const double low = std::max(limits.age_from_years, condition.least_age_years);
  const double high = std::min(limits.age_to_years, condition.most_age_years);
  const double age = std::min(95.0, std::max(draw.uniform(low, std::max(low, high)), 0.02));
  const double whole = std::floor(age);
  return whole >= 2.0 && whole >= low ? whole : age;
}

double weight_factor(Build build, double age_years, RandomStream& draw) {
  if (build == Build::kAny) {
    const double share = draw.uniform();  // mostly average
    build = share < 0.2 ? Build::kSlim : share < 0.75 ? Build::kAverage : Build::kHeavy;
  }
  const bool is_child = age_years < 12.0;
  switch (build) {
    case Build::kSlim:
      return draw.uniform(0.82, 0.90);
    case Build::kHeavy:
      return is_child ? draw.uniform(1.15, 1.3) : draw.uniform(1.3, 1.65);
    default:
      return draw.uniform(0.94, 1.08);
  }
}

patient::Person person_of(double age_years, Build build, const DrawData& data, RandomStream& draw) {
  patient::Person person;
  person.age_years = age_years;
  person.sex = draw.chance(0.5) ? patient::Sex::kFemale : patient::Sex::kMale;
  const auto& sizes = data.sizes();
  std::size_t after = 1;
  while (after + 1 < sizes.size() && sizes[after].age_years < age_years) ++after;
  const TypicalSize &a = sizes[after - 1], &b = sizes[after];
  const double t = std::clamp((age_years - a.age_years) / (b.age_years - a.age_years), 0.0, 1.0);
  const bool is_female = person.sex == patient::Sex::kFemale;
  const auto between = [t](double x, double y) { return x + t * (y - x); };
  const double tallness = std::clamp(draw.normal(1.0, 0.038), 0.92, 1.08);
  person.height_cm =
      tallness * (is_female ? between(a.female_cm, b.female_cm) : between(a.male_cm, b.male_cm));
  person.weight_kg =
      tallness * tallness * weight_factor(build, age_years, draw) *
      (is_female ? between(a.female_kg, b.female_kg) : between(a.male_kg, b.male_kg));
  person.height_cm = std::round(person.height_cm);
  person.weight_kg = std::round(10.0 * person.weight_kg) / 10.0;
  person.muscle =
      std::round(100.0 * std::clamp(draw.normal(kUsualMuscle, 0.12), 0.05, 0.8)) / 100.0;
  return person;
}

patient::ConditionUse use_of(const Condition& condition, double severity_from, double severity_to,
                             RandomStream& draw) {
  patient::ConditionUse use;
  use.id = condition.id;
  use.severity = std::round(100.0 * draw.uniform(severity_from, severity_to)) / 100.0;
  const bool is_right = draw.chance(0.5);
  const auto lobe = static_cast<int>(draw.below(exam::kNumLobes));
  if (condition.needs_side) use.side = is_right ? exam::Side::kRight : exam::Side::kLeft;
  if (condition.default_lobe >= 0) use.lobe = lobe;
  return use;
}

// What may come with the first, taught at that age.
Result<Condition> second_condition(const Condition& first, double age_years, const DrawData& data,
                                   const patient::Conditions& conditions, RandomStream& draw) {
  std::vector<Condition> fitting;
  for (const DrawPair& pair : data.pairs()) {
    if (pair.first != first.id) continue;
    auto found = conditions.find(pair.second);
    if (found && is_taught(*found, age_years, age_years)) fitting.push_back(std::move(*found));
  }
  if (fitting.empty()) return fail(ErrorCode::kNotFound, "nothing comes with " + first.id);
  return one_of(fitting, draw);
}

std::string who(const patient::Person& person) {
  const bool is_female = person.sex == patient::Sex::kFemale;
  if (person.age_years < 2.0) return is_female ? "A baby girl" : "A baby boy";
  const std::string noun =
      person.age_years >= 16.0 ? (is_female ? "woman" : "man") : (is_female ? "girl" : "boy");
  const long years = std::lround(std::floor(person.age_years));
  const bool is_vowel = years == 8 || years == 11 || years == 18 || (years >= 80 && years < 90);
  return (is_vowel ? "An " : "A ") + std::to_string(years) + "-year-old " + noun;
}

std::string point_of(const Condition& condition) {
  return condition.name + ". " + condition.heard +
         (condition.caution.empty() ? "" : " " + condition.caution);
}

}  // namespace

Result<Case> draw_case(const Draw& draw, const DrawData& data,
                       const patient::Conditions& conditions) {
  const DrawLimits limits = limits_of(draw, data);
  RandomStream illness(draw.seed, "draw_illness"), body(draw.seed, "draw_person"),
      around(draw.seed, "draw_scene");
  const auto first = TRY(first_condition(limits, conditions, illness));
  Case out;
  out.id = draw_id(draw);
  out.title = "A patient";
  const double age_years = age_for(first, limits, body);
  out.patient.person = person_of(age_years, limits.build, data, body);
  TRY(patient::complete(out.patient.person));
  out.setting = exam::setting_for(age_years);
  if (first.id != "healthy") {
    out.patient.conditions.push_back(
        use_of(first, limits.severity_from, limits.severity_to, illness));
    out.teaching_points.push_back(point_of(first));
    if (limits.most_conditions > 1 && illness.chance(limits.second_chance)) {
      if (const auto second = second_condition(first, age_years, data, conditions, illness)) {
        out.patient.conditions.push_back(
            use_of(*second, limits.severity_from, limits.severity_to, illness));
        out.teaching_points.push_back(point_of(*second));
      }
    }
  }
  out.clothing = read_word<bedside::Clothing>("clothing", one_of(limits.clothing, around))
                     .value_or(out.clothing);
  out.room =
      read_word<acoustics::Surroundings>("room", one_of(limits.rooms, around)).value_or(out.room);
  out.story = one_of(data.scenes(), around) + " " + who(out.patient.person) +
              " is unwell. Ask, look, and listen.";
  return out;
}

}  // namespace phren::teaching
