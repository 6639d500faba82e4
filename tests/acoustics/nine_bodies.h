// Nine people, newborn to 120 kg, on which the figure is checked.
#pragma once

#include <array>
#include <ostream>

#include "acoustics/figure/motion.h"
#include "base/files.h"
#include "patient/conditions.h"
#include "patient/patient.h"
#include "patient/person.h"

namespace phren::acoustics {

struct Someone {
  const char* name;
  double age_years;
  patient::Sex sex;
  double height_cm, weight_kg, muscle;
};
inline void PrintTo(const Someone& one, std::ostream* out) {
  *out << one.name;
}
inline constexpr std::array<Someone, 9> kNineBodies{{
    {"newborn", 0.02, patient::Sex::kMale, 50.0, 3.4, 0.3},
    {"one year", 1.0, patient::Sex::kFemale, 75.0, 9.5, 0.3},
    {"six years", 6.0, patient::Sex::kFemale, 116.0, 21.0, 0.3},
    {"twelve years", 12.0, patient::Sex::kMale, 150.0, 41.0, 0.3},
    {"slim woman", 30.0, patient::Sex::kFemale, 166.0, 55.0, 0.3},
    {"man", 30.0, patient::Sex::kMale, 178.0, 78.0, 0.3},
    {"man of 120 kg", 60.0, patient::Sex::kMale, 175.0, 120.0, 0.3},
    {"old woman", 85.0, patient::Sex::kFemale, 156.0, 57.0, 0.1},
    {"muscular man", 30.0, patient::Sex::kMale, 182.0, 95.0, 0.9},
}};

inline const Mould& mould() {
  static const Mould kMould = [] {
    const auto text = read_file("data/figure/body.bin");
    const auto* bytes = reinterpret_cast<const std::uint8_t*>(text->data());
    return *Mould::read({bytes, text->size()});
  }();
  return kMould;
}

struct Body {
  patient::Person person;
  Figure figure;
  SkinMap map;
  Ribs ribs;
  explicit Body(const patient::Person& of)
      : person(of), figure(make_figure(mould(), of)), map(figure), ribs(figure, map) {}
};
inline patient::Person person_of(const Someone& one) {
  patient::Person p;
  p.age_years = one.age_years;
  p.sex = one.sex;
  p.height_cm = one.height_cm;
  p.weight_kg = one.weight_kg;
  p.muscle = one.muscle;
  return *patient::complete(p);
}

// A running body with one condition, as a case would make it.
inline patient::Patient sick(const char* condition, double severity, const patient::Person& person,
                             exam::Side side) {
  static const auto conditions = *patient::Conditions::load(data_directory() / "conditions");
  static const auto treatments = *patient::Treatments::load(data_directory() / "treatments");
  patient::PatientSetup setup;
  setup.person = person;
  patient::ConditionUse use;
  use.id = condition;
  use.severity = severity;
  use.side = side;
  setup.conditions.push_back(use);
  return *patient::Patient::make(*patient::configure(setup, conditions, treatments), Seed{20});
}

}  // namespace phren::acoustics
