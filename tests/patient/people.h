// Patients for the tests of this folder, from the data that everybody uses.
#pragma once

#include <string>
#include <vector>

#include "base/files.h"
#include "patient/conditions.h"
#include "patient/patient.h"

namespace phren::patient {

inline const Conditions& conditions() {
  static const Conditions all = *Conditions::load(data_directory() / "conditions");
  return all;
}
inline const Treatments& treatments() {
  static const Treatments all = *Treatments::load(data_directory() / "treatments");
  return all;
}

inline PatientConfig config_of(const Person& person, const std::vector<ConditionUse>& uses,
                               double before_min = 15.0) {
  return *configure({person, uses, before_min, Posture::kSitting}, conditions(), treatments());
}
inline Patient sick(const std::string& id, double severity, Person person = {},
                    double before_min = 15.0) {
  return *Patient::make(config_of(person, {{.id = id, .severity = severity}}, before_min), Seed{7});
}
// Ill by one mechanism alone, everywhere and steady: no condition's name is involved.
inline Patient with_mechanism(Mechanism mechanism, double value, double before_min = 15.0) {
  PatientConfig config = config_of({}, {}, before_min);
  ConditionEffect effect;
  effect.mechanism = mechanism;
  effect.curve.at.fill(value);
  ActiveCondition active;
  active.effects = {effect};
  config.conditions = {active};
  return *Patient::make(config, Seed{7});
}
inline Action treat(const char* id, exam::Side side = exam::Side::kRight) {
  return {ActionKind::kTreat, *treatments().index_of(id), side};
}

}  // namespace phren::patient
