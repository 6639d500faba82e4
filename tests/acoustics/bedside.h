// A patient with a condition, a chestpiece on a named site, and what was heard there: what the
// tests of whole bodies share.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "acoustics/measures.h"
#include "base/files.h"
#include "bedside/recording.h"
#include "exam/sites.h"
#include "patient/conditions.h"

namespace phren::acoustics::testing {

using bedside::record;
using bedside::Recording;
using bedside::RecordingRequest;

// A body as a case would make it: `side` and `lobe` as patient::ConditionUse has them.
inline patient::PatientConfig sick_config(const std::string& condition, double severity,
                                          const patient::Person& person = adult(),
                                          exam::Side side = exam::Side::kMidline, int lobe = -1) {
  static const auto conditions = *patient::Conditions::load(data_directory() / "conditions");
  static const auto treatments = *patient::Treatments::load(data_directory() / "treatments");
  patient::PatientSetup setup;
  setup.person = person;
  patient::ConditionUse use;
  use.id = condition;
  use.severity = severity;
  use.side = side;
  use.lobe = lobe;
  setup.conditions.push_back(use);
  return *patient::configure(setup, conditions, treatments);
}

inline patient::Patient sick(const std::string& condition, double severity,
                             const patient::Person& person = adult(),
                             exam::Side side = exam::Side::kMidline, int lobe = -1,
                             std::uint64_t seed = 20) {
  return *patient::Patient::make(sick_config(condition, severity, person, side, lobe), Seed{seed});
}

inline exam::TorsoPoint site(const char* id) {
  static const auto map = *exam::SiteMap::load(data_directory() / "sites.toml");
  return map.find(id)->at;
}

// The body is a copy: it breathes, and the caller's does not.
inline Recording listen(patient::Patient body, const exam::TorsoPoint& at, double seconds = 20.0,
                        double sample_rate_hz = 16000.0, std::uint64_t seed = 20) {
  RecordingRequest request;
  request.at = at;
  request.seconds = seconds;
  request.sample_rate_hz = sample_rate_hz;
  request.head = Head::kSensor;
  return *record(body, Seed{seed}, request);
}

inline double seconds_of(const Recording& r, exam::Sound sound, exam::Phase phase) {
  double sum = 0.0;
  for (const TruthEvent& e : r.events) {
    if (e.sound == sound && e.phase == phase && e.audible) sum += e.end_s - e.start_s;
  }
  return sum;
}

// A cough is a forced breath, and forced breaths wheeze: such sound says nothing of the disease.
inline bool is_in_cough(const Recording& r, double from_s, double to_s) {
  return std::any_of(r.events.begin(), r.events.end(), [&](const TruthEvent& e) {
    return e.sound == exam::Sound::kCough && from_s < e.end_s + 0.5 && e.start_s - 0.5 < to_s;
  });
}

struct Wheezing {
  double share = 0.0;       // of the time, 0..1
  double highest_hz = 0.0;  // of the notes longer than `least_s`
};

// Wheeze that can be heard, coughs aside.
inline Wheezing wheezing(const Recording& r, double least_s = 0.0) {
  const double length_s = static_cast<double>(r.samples.size()) / r.sample_rate_hz;
  std::vector<bool> sings(static_cast<std::size_t>(length_s * 100.0), false);
  Wheezing out;
  for (const TruthEvent& e : r.events) {
    if (e.sound != exam::Sound::kWheeze || !e.audible) continue;
    if (is_in_cough(r, e.start_s, e.end_s)) continue;
    if (e.end_s - e.start_s > least_s) out.highest_hz = std::max(out.highest_hz, e.pitch_hz);
    for (double t = e.start_s; t < e.end_s; t += 0.01) {
      const auto i = static_cast<std::size_t>(t * 100.0);
      if (i < sings.size()) sings[i] = true;
    }
  }
  out.share = static_cast<double>(std::count(sings.begin(), sings.end(), true)) /
              static_cast<double>(sings.size());
  return out;
}

// Level of both phases, 100-1000 Hz, pauses and coughs left out, dB re full scale.
inline double breathing_level_dbfs(const Recording& r, patient::Patient body) {
  std::vector<float> kept;
  for (std::size_t i = 0; i < r.samples.size(); ++i) {
    const double t = static_cast<double>(i) / r.sample_rate_hz;
    body.advance_to(r.start_s + t);
    if (body.snapshot().phase == exam::Phase::kPause || is_in_cough(r, t, t)) continue;
    kept.push_back(r.samples[i]);
  }
  if (kept.size() < 2048) return -100.0;
  return spectrum_of(kept, r.sample_rate_hz, 1024).level_db(100.0, 1000.0);
}

inline double median(std::vector<double> values) {
  return signal::median_of(std::move(values));
}

}  // namespace phren::acoustics::testing
