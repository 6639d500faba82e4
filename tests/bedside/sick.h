// Bodies with a condition, and what is heard at every site of them: what the tests of this room share.
#pragma once

#include <string>
#include <vector>

#include "base/files.h"
#include "base/random.h"
#include "bedside/listener.h"
#include "exam/sites.h"
#include "patient/conditions.h"
#include "patient/person.h"

namespace phren::bedside::testing {

inline const exam::SiteMap& site_map() {
  static const auto map = *exam::SiteMap::load(data_directory() / "sites.toml");
  return map;
}

inline const patient::Conditions& conditions() {
  static const auto all = *patient::Conditions::load(data_directory() / "conditions");
  return all;
}

inline patient::Person person(double age_years, patient::Sex sex, double height_cm,
                              double weight_kg, double muscle = 0.3) {
  patient::Person one;
  one.age_years = age_years;
  one.sex = sex;
  one.height_cm = height_cm;
  one.weight_kg = weight_kg;
  one.muscle = muscle;
  return *patient::complete(one);
}

// From a child of two to an elder, thin to obese.
inline std::vector<patient::Person> ten_bodies() {
  using enum patient::Sex;
  return {person(2, kFemale, 86, 12),   person(8, kMale, 128, 26),
          person(15, kFemale, 162, 52), person(22, kMale, 183, 74),
          person(30, kFemale, 165, 60), person(41, kMale, 178, 120),
          person(47, kFemale, 158, 96), person(58, kMale, 174, 80, 0.8),
          person(70, kMale, 170, 66),   person(84, kFemale, 154, 48)};
}

// Somebody between these ages, of a height and weight that go with them.
inline patient::Person drawn_body(RandomStream& draw, double youngest, double oldest) {
  const double age = draw.uniform(youngest, oldest);
  const double height = age < 2.0    ? 62.0 + 13.0 * age
                        : age < 16.0 ? 77.0 + 6.0 * age
                                     : draw.uniform(150.0, 192.0);
  const double build = draw.uniform(0.85, 1.2);
  const double weight = age < 1.0    ? 5.0 + 5.0 * age
                        : age < 16.0 ? 8.0 + 2.4 * age
                                     : 23.0 * height * height * 1e-4;
  return person(age, draw.chance(0.5) ? patient::Sex::kFemale : patient::Sex::kMale, height,
                build * weight);
}

// No condition for an empty id.
inline patient::PatientConfig config_of(const std::string& condition, double severity,
                                        const patient::Person& body) {
  static const auto treatments = *patient::Treatments::load(data_directory() / "treatments");
  patient::PatientSetup setup;
  setup.person = body;
  if (!condition.empty()) {
    patient::ConditionUse use;
    use.id = condition;
    use.severity = severity;
    setup.conditions.push_back(use);
  }
  return *patient::configure(setup, conditions(), treatments);
}

inline patient::Patient body_of(const patient::PatientConfig& config, std::uint64_t seed = 5) {
  return *patient::Patient::make(config, Seed{seed});
}

inline std::vector<PlaceToHear> places(const std::vector<std::string>& site_ids) {
  std::vector<PlaceToHear> out;
  for (const std::string& id : site_ids) out.push_back({site_map().find(id)->at, id});
  return out;
}

inline std::vector<std::string> all_site_ids() {
  std::vector<std::string> out;
  for (const exam::Site& site : site_map().all()) out.push_back(site.id);
  return out;
}

inline std::vector<HeardAt> hear(const std::string& condition, double severity,
                                 const patient::Person& body,
                                 const std::vector<std::string>& site_ids, double seconds = 12.0,
                                 std::uint64_t seed = 5) {
  const auto config = config_of(condition, severity, body);
  auto twin = *HealthyTwin::make(config, Seed{seed});
  auto heard = *hear_places(body_of(config, seed), twin, Seed{seed}, places(site_ids), seconds);
  compare_sides(heard, site_map());
  return heard;
}

}  // namespace phren::bedside::testing
