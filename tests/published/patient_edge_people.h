// People and small runs for the second table of published values.
#pragma once

#include <cmath>
#include <limits>
#include <string>

#include "base/files.h"
#include "patient/conditions.h"
#include "patient/findings.h"
#include "patient/patient.h"

namespace phren::patient::edge {

inline constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

inline const Person kNewborn{0.01, Sex::kMale, 50.0, 3.5};
inline const Person kInfant{1.0, Sex::kMale, 76.0, 9.8};
inline const Person kChild{6.0, Sex::kMale, 117.0, 20.5};
inline const Person kAdult{34.0, Sex::kMale, 175.0, 75.0};
inline const Person kElder{80.0, Sex::kMale, 172.0, 72.0};

inline const Conditions& conditions() {
  static const Conditions all = *Conditions::load(data_directory() / "conditions");
  return all;
}
inline const Treatments& treatments() {
  static const Treatments all = *Treatments::load(data_directory() / "treatments");
  return all;
}

struct Ill {
  const char* id = "healthy";
  double severity = 0.0;
};

// Nobody, when the model does not know the condition. The illness stays at its severity: a row speaks
// of one grade, and before against after must not measure the natural course.
inline std::optional<Patient> patient(const Person& person, std::vector<Ill> ills = {},
                                      double before_min = 15.0, Posture posture = Posture::kSitting,
                                      std::uint64_t seed = 7) {
  PatientSetup setup;
  setup.person = person;
  for (const Ill& i : ills) {
    setup.conditions.push_back({.id = i.id, .severity = i.severity, .is_steady = true});
  }
  setup.minutes_before = before_min;
  setup.posture = posture;
  const auto config = configure(setup, conditions(), treatments());
  if (!config) return std::nullopt;
  return *Patient::make(*config, Seed{seed});
}

inline bool treat(Patient& p, const char* id, exam::Side side = exam::Side::kRight) {
  const auto index = treatments().index_of(id);
  return index && p.act({ActionKind::kTreat, *index, side});
}
inline bool stop(Patient& p, const char* id, exam::Side side = exam::Side::kRight) {
  const auto index = treatments().index_of(id);
  return index && p.act({ActionKind::kStop, *index, side});
}
inline bool lay(Patient& p, int posture) {
  return p.act({ActionKind::kSetPosture, posture});
}

struct Seen {  // means over a while
  double rr = 0, spo2 = 0, hr = 0, sbp = 0, dbp = 0, etco2 = 0, pao2 = 0, paco2 = 0, ph = 0,
         output = 0, map = 0, tidal = 0, wedge = 0, hr_swing = 0, sbp_swing = 0, lactate = 0,
         stroke = 0, sao2 = 0, pra = 0;
};
// Watches for `seconds`, four times a second.
inline Seen watch(Patient& p, double seconds = 30.0) {
  Seen s;
  const int n = static_cast<int>(4.0 * seconds);
  double hr_low = 1e9, hr_high = 0, sbp_low = 1e9, sbp_high = 0;
  for (int i = 0; i < n; ++i) {
    p.advance_to(p.time_s() + 0.25);
    const Monitor m = p.monitor();
    const Inside x = p.inside();
    const double w = 1.0 / n;
    s.rr += w * m.respiratory_rate_per_min;
    s.spo2 += w * m.spo2_percent;
    s.hr += w * m.heart_rate_per_min;
    s.sbp += w * m.systolic_mmHg;
    s.dbp += w * m.diastolic_mmHg;
    s.etco2 += w * m.etco2_mmHg;
    s.pao2 += w * x.pao2_mmHg;
    s.paco2 += w * x.paco2_mmHg;
    s.ph += w * x.ph;
    s.output += w * x.cardiac_output_L_per_min;
    s.map += w * x.mean_arterial_mmHg;
    s.tidal += w * x.tidal_L;
    s.wedge += w * x.wedge_mmHg;
    s.lactate += w * x.lactate_mmol_per_L;
    s.sao2 += w * x.sao2;
    s.pra += w * x.right_atrial_mmHg;
    s.stroke += w * p.circulation().stroke_volume_L();
    hr_low = std::min(hr_low, m.heart_rate_per_min);
    hr_high = std::max(hr_high, m.heart_rate_per_min);
    sbp_low = std::min(sbp_low, m.systolic_mmHg);
    sbp_high = std::max(sbp_high, m.systolic_mmHg);
  }
  s.hr_swing = hr_high - hr_low;
  s.sbp_swing = sbp_high - sbp_low;
  return s;
}
inline void wait(Patient& p, double seconds) {
  p.advance_to(p.time_s() + seconds);
}

inline double body_surface_m2(const Person& p) {  // Mosteller 1987, from memory
  return std::sqrt(p.height_cm * p.weight_kg / 3600.0);
}

// Seconds until `happened`, or NaN.
template <typename Happened>
double seconds_until(Patient& p, Happened happened, double most_s = 3600.0, double every_s = 1.0) {
  const double start = p.time_s();
  while (p.time_s() < start + most_s) {
    if (happened(p)) return p.time_s() - start;
    p.advance_to(p.time_s() + every_s);
  }
  return kNone;
}

inline double alert_level(const Patient& p) {
  return static_cast<double>(p.signs().consciousness);
}

}  // namespace phren::patient::edge
