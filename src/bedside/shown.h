// What a page draws of the running body, told once: the order of the numbers, and the names and types that
// the pages' TypeScript gets for them, follow from here (app/engine/typescript.cc).
//
// Shapes:  a visitor has number(name, value), flag(name, value), word(name, enumeration),
//          group(name, type, fill) and list(name, type, count, fill).
// Units:   s, L, L/s, cmH2O, mmHg; shares 0..1.
#pragma once

#include <limits>

#include "acoustics/types.h"
#include "exam/types.h"
#include "patient/signs.h"
#include "patient/types.h"

namespace phren::bedside {

template <class V>
void show_lobe(V& v, const patient::LobeState& lobe) {
  v.number("flow", lobe.flow_L_per_s);                // into the lung positive
  v.number("volumeFraction", lobe.volume_fraction);   // 0 at residual volume, 1 at total capacity
  v.number("radiusRatio", lobe.airway_radius_ratio);  // airways against this person's healthy size
  v.number("limitation", lobe.flow_limitation);       // 0 free .. 1 flow-limited
  v.number("solid", lobe.consolidation);
  v.number("water", lobe.lung_water);
  v.number("secretions", lobe.secretions);
  v.flag("isBlocked", lobe.bronchus_blocked);
}

// `m` is a patient::Monitor, constant or not.
template <class V, class M>
void show_vitals(V& v, M& m) {
  v.number("breathsPerMin", m.respiratory_rate_per_min);
  v.number("spo2", m.spo2_percent);
  v.number("etco2", m.etco2_mmHg);
  v.number("heartPerMin", m.heart_rate_per_min);
  v.number("systolic", m.systolic_mmHg);
  v.number("diastolic", m.diastolic_mmHg);
  v.number("temperature", m.temperature_C);
}

// Without a pulse neither oximeter nor cuff finds anything: not a number, which pages show as no reading.
inline patient::Monitor as_instruments_read(patient::Monitor m) {
  if (m.has_pulse) return m;
  m.spo2_percent = m.heart_rate_per_min = m.systolic_mmHg = m.diastolic_mmHg =
      std::numeric_limits<double>::quiet_NaN();
  return m;
}

template <class V>
void show(V& v, const patient::Snapshot& s, const patient::Monitor& m) {
  v.number("timeS", s.time_s);
  v.word("phase", s.phase);
  v.number("breathCount", static_cast<double>(s.breath_count));
  v.number("flow", s.trachea_flow_L_per_s);
  v.number("volume", s.total_volume_L);
  v.number("effort", s.muscle_pressure_cmH2O);
  v.number("throat", s.upper_airway.narrowing);  // 0 open .. 1 shut
  v.number("capnogram", m.co2_mmHg);             // at the mouth now
  v.group("vitals", "Vitals", [&] {
    const patient::Monitor read = as_instruments_read(m);
    show_vitals(v, read);
  });
  v.list("lobes", "LobeNow", s.lobe.size(), [&](std::size_t i) { show_lobe(v, s.lobe[i]); });
  v.list("pleura", "PleuraNow", s.pleura.size(), [&](std::size_t i) {
    v.number("gas", s.pleura[i].gas_L);
    v.number("fluid", s.pleura[i].fluid_L);
  });
}

template <class V>
void show(V& v, const acoustics::TruthEvent& e) {
  v.word("sound", e.sound);
  v.word("phase", e.phase);
  v.word("region", e.region);
  v.number("startS", e.start_s);
  v.number("endS", e.end_s);
  v.number("pitchHz", e.pitch_hz);
  v.number("aboveDb", e.level_above_background_db);
  v.flag("isAudible", e.audible);
}

// Writes what is shown as numbers, one after another: flags are 0 or 1, enumerations their place.
class ShownNumbers {
 public:
  explicit ShownNumbers(double* to) noexcept : to_(to) {}
  std::size_t count() const noexcept { return count_; }

  void number(const char*, double value) noexcept {
    if (to_ != nullptr) to_[count_] = value;
    ++count_;
  }
  void flag(const char* name, bool value) noexcept { number(name, value ? 1.0 : 0.0); }
  template <class E>
  void word(const char* name, E value) noexcept {
    number(name, static_cast<double>(value));
  }
  template <class Fill>
  void group(const char*, const char*, Fill fill) noexcept {
    fill();
  }
  template <class Fill>
  void list(const char*, const char*, std::size_t count, Fill fill) noexcept {
    for (std::size_t i = 0; i < count; ++i) fill(i);
  }

 private:
  double* to_;
  std::size_t count_ = 0;
};

// How many numbers a thing takes.
template <class... What>
std::size_t shown_length(const What&... what) {
  ShownNumbers counting(nullptr);
  show(counting, what...);
  return counting.count();
}

}  // namespace phren::bedside
