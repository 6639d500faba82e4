// What the engine tells the figure, as a row of numbers: the one description of what crosses from the
// module that sounds to the module that is looked at. Pages carry the row without reading it.
//
// Units:   in the names; signs as in patient/signs.h.
#pragma once

#include <array>
#include <span>

#include "acoustics/figure/motion.h"

namespace phren::acoustics {

struct Seen {
  BreathNow breath;
  std::array<double, 2> fluid_L{};  // of the pleural space, right and left
  patient::Signs signs;             // those that a figure can show
  double drool = 0.0;               // 0 or 1
};

inline constexpr std::size_t kSeenLength = 26;

// Calls take(value) for every number in the row's order: for writing and for reading.
template <typename S, typename Take>
void each_seen(S& seen, Take take) {
  for (auto& litres : seen.breath.lobe_L) take(litres);
  for (auto& litres : seen.breath.pleural_L) take(litres);
  take(seen.breath.effort_cmH2O);
  for (auto& litres : seen.fluid_L) take(litres);
  auto& s = seen.signs;
  for (auto* sign :
       {&s.accessory_muscles, &s.retractions, &s.nasal_flaring, &s.cyanosis, &s.pallor,
        &s.diaphoresis, &s.urticaria, &s.angioedema, &s.jugular_venous_mmHg, &s.tracheal_deviation,
        &s.subcutaneous_air, &s.flail[0], &s.flail[1], &s.abdominal_paradox}) {
    take(*sign);
  }
  take(seen.drool);
}

inline Seen seen_of(const patient::Snapshot& now, const patient::Signs& signs) noexcept {
  Seen out;
  for (std::size_t i = 0; i < now.lobe.size(); ++i) out.breath.lobe_L[i] = now.lobe[i].volume_L;
  for (std::size_t k = 0; k < 2; ++k) {
    out.fluid_L[k] = now.pleura[k].fluid_L;
    out.breath.pleural_L[k] = now.pleura[k].gas_L + now.pleura[k].fluid_L;
  }
  out.breath.effort_cmH2O = now.muscle_pressure_cmH2O;
  out.signs = signs;
  out.drool = signs.has(patient::Fact::kDrooling) ? 1.0 : 0.0;
  return out;
}

inline void write_seen(const Seen& seen, std::span<double, kSeenLength> out) noexcept {
  std::size_t i = 0;
  each_seen(seen, [&](const double& value) { out[i++] = value; });
  // Mind and posture are no amounts.
  out[i++] = static_cast<double>(seen.signs.consciousness) + (seen.signs.tripod ? 10.0 : 0.0);
}
inline Seen read_seen(std::span<const double, kSeenLength> in) noexcept {
  Seen out;
  std::size_t i = 0;
  each_seen(out, [&](double& value) { value = in[i++]; });
  out.signs.tripod = in[i] >= 10.0;
  out.signs.consciousness = static_cast<patient::Consciousness>(
      static_cast<int>(in[i] - (out.signs.tripod ? 10.0 : 0.0)));
  return out;
}

}  // namespace phren::acoustics
