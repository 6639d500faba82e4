// Lives an encounter again: patient and chestpiece run from case, seed and actions, so what was
// audible at each place is known and not taken from anyone's word.
//
// Units:   encounter time starts when the patient does (after the time with the illness before).
//          An action takes effect at the first patient step (1/128 s) at or after its time.
// Errors:  what the case and treatment data report; an unknown treatment names the action.
// Cost:    linear in the length of the encounter; sound is made only while the chestpiece is on.
#pragma once

#include "acoustics/listening.h"
#include "base/result.h"
#include "exam/sites.h"
#include "patient/conditions.h"
#include "patient/config.h"
#include "teaching/encounter/performance.h"

namespace phren::teaching {

struct ReplaySetup {
  patient::PatientSetup patient;
  double clothing_thickness = 0.0;  // 0 bare from the start
  acoustics::Surroundings room = acoustics::Surroundings::kQuiet;
};

struct ReplayData {
  const patient::Conditions& conditions;
  const patient::Treatments& treatments;
  const exam::SiteMap& sites;
};

struct ReplayOptions {
  double sample_rate_hz = 16000.0;  // a multiple of 128; enough for every chest sound
};

Result<Performance> replay(const EncounterLog& log, const ReplaySetup& setup,
                           const ReplayData& data, const ReplayOptions& options = {});

}  // namespace phren::teaching
