// Conversions between the units of the trade. Inside Phren: seconds, litres, L/s, cmH2O, mmHg (gas
// and blood pressures), Hz, breaths/min. Everything else is converted here, at the edge.
//
// Source:  1 kPa = 10.197 cmH2O = 7.501 mmHg; 1 mmHg = 1.3595 cmH2O (SI definitions, rounded).
#pragma once

namespace phren {

inline constexpr double kCmH2O_per_mmHg = 1.3595;
inline constexpr double kCmH2O_per_kPa = 10.197;
inline constexpr double kMmHg_per_kPa = 7.501;

constexpr double cmH2O_from_mmHg(double p_mmHg) {
  return p_mmHg * kCmH2O_per_mmHg;
}
constexpr double mmHg_from_cmH2O(double p_cmH2O) {
  return p_cmH2O / kCmH2O_per_mmHg;
}
constexpr double cmH2O_from_kPa(double p_kPa) {
  return p_kPa * kCmH2O_per_kPa;
}
constexpr double kPa_from_cmH2O(double p_cmH2O) {
  return p_cmH2O / kCmH2O_per_kPa;
}
constexpr double hz_from_per_min(double rate_per_min) {
  return rate_per_min / 60.0;
}
constexpr double per_min_from_hz(double rate_hz) {
  return rate_hz * 60.0;
}
constexpr double L_from_mL(double v_mL) {
  return v_mL / 1000.0;
}
constexpr double mL_from_L(double v_L) {
  return v_L * 1000.0;
}

}  // namespace phren
