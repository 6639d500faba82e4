// Lives an encounter again: patient and chestpiece run from case, seed and actions, so what was
// audible at each place is known and not taken from anyone's word.
//
// Units:   encounter time starts when the patient does (after the time with the illness before).
//          An action takes effect at the first patient step (1/128 s) at or after its time.
//          The chestpiece hears from second 0 to the end, as in the browser, so that at the rate of
//          the browser the samples are the browser's.
// Errors:  what the case and treatment data report; an unknown treatment names the action.
// Cost:    linear in the length of the encounter: about 1/170 of it at 48 kHz, 1/340 at 16 kHz.
#pragma once

#include <functional>
#include <span>

#include "acoustics/listening.h"
#include "base/result.h"
#include "bedside/performance.h"
#include "exam/sites.h"
#include "patient/conditions.h"
#include "patient/config.h"

namespace phren::bedside {

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
  // Called with what the chestpiece gives, a patient step at a time; `start_s` is encounter time.
  std::function<void(double start_s, std::span<const float> sound)> on_sound;
};

Result<Performance> replay(const EncounterLog& log, const ReplaySetup& setup,
                           const ReplayData& data, const ReplayOptions& options = {});

}  // namespace phren::bedside
