// Random people and illnesses, for the tests that look at many of them.
#pragma once

#include <algorithm>
#include <cmath>
#include <string>

#include "base/random.h"
#include "people.h"

namespace phren::patient {

// Somebody of usual size for the age.
inline Person person_of_age(double age, Sex sex = Sex::kMale) {
  const double height =
      age < 18.0 ? 50.0 + 122.0 * std::pow(age / 18.0, 0.6) : (sex == Sex::kMale ? 175.0 : 163.0);
  const double bmi = age < 1.0 ? 14.0 + 2.5 * age : age < 12.0 ? 16.0 : age < 18.0 ? 20.0 : 24.5;
  return {age, sex, height, bmi * height * height / 10000.0};
}
inline Person some_person(RandomStream& r, double least_years, double most_years) {
  Person p =
      person_of_age(r.uniform(least_years, most_years), r.chance(0.5) ? Sex::kMale : Sex::kFemale);
  const double size = r.uniform(0.94, 1.06);
  p.height_cm *= size;
  p.weight_kg *= size * size * r.uniform(0.9, 1.2);
  return p;
}

// `count` illnesses of at least `least_severity`, of an age at which they occur; healthy is none.
inline PatientSetup some_setup(RandomStream& r, int count, double least_severity) {
  PatientSetup setup;
  double low = 0.01, high = 95.0;
  const auto& all = conditions().all();
  while (static_cast<int>(setup.conditions.size()) < count) {
    const Condition& c = all[r.below(static_cast<std::uint32_t>(all.size()))];
    const double least = std::max(c.least_age_years, low), most = std::min(c.most_age_years, high);
    const bool is_there = std::any_of(setup.conditions.begin(), setup.conditions.end(),
                                      [&](const ConditionUse& u) { return u.id == c.id; });
    if (c.id == "healthy" || is_there || least >= most) continue;
    low = least;
    high = most;
    setup.conditions.push_back({.id = c.id,
                                .severity = r.uniform(least_severity, 1.0),
                                .side = r.chance(0.5) ? exam::Side::kRight : exam::Side::kLeft});
  }
  setup.person = some_person(r, low, high);
  setup.minutes_before = 5.0;
  return setup;
}

inline std::string told(const PatientSetup& setup) {
  std::string text = std::to_string(setup.person.age_years) + " y, " +
                     std::to_string(setup.person.height_cm) + " cm, " +
                     std::to_string(setup.person.weight_kg) + " kg";
  for (const ConditionUse& u : setup.conditions)
    text += ", " + u.id + " " + std::to_string(u.severity);
  return text;
}

}  // namespace phren::patient
