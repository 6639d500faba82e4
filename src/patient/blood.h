// Gas in blood: oxygen dissociation with the Bohr shift, CO2 content with the Haldane effect, pH.
//
// Units:   pressures mmHg, contents mL STPD per litre of blood, saturation 0..1, haemoglobin g/dL.
// Source:  oxygen curve and Bohr slope: Severinghaus, J Appl Physiol 1979;46:599; exact inverse:
//          Ellis, J Appl Physiol 1989;67:902 (from memory; checked exact against the curve).
//          CO2 content: power law through 52 mL/dL at 40 mmHg with slope 0.47 mL/dL/mmHg, Haldane
//          shift 6 mL/dL between full and empty haemoglobin: textbook values, from memory.
// Limits:  no temperature shift; 2,3-DPG normal.
#pragma once

namespace phren::patient {

inline constexpr double kBarometric_mmHg = 760.0;
inline constexpr double kWaterVapour_mmHg = 47.0;
inline constexpr double kDryPressure_mmHg = kBarometric_mmHg - kWaterVapour_mmHg;
// mL STPD of dry gas in one litre BTPS per mmHg: 1000 / 863.
inline constexpr double kStpd_mL_per_L_per_mmHg = 1000.0 / 863.0;

double saturation(double po2_mmHg) noexcept;             // at pH 7.40
double saturation(double po2_mmHg, double ph) noexcept;  // with the Bohr shift
double po2_of_saturation(double saturation) noexcept;    // at pH 7.40; exact inverse
double dlnp_dph(double po2_mmHg) noexcept;               // Severinghaus' Bohr slope
double oxygen_content(double po2_mmHg, double ph, double hb_g_per_dL) noexcept;
double po2_of_content(double content, double ph, double hb_g_per_dL) noexcept;

double bicarbonate(double pco2_mmHg, double base_bicarbonate) noexcept;  // acute buffering
double ph_of(double pco2_mmHg, double bicarbonate_mmol_per_L) noexcept;  // Henderson-Hasselbalch

double co2_content(double pco2_mmHg, double saturation, double base_bicarbonate) noexcept;
double pco2_of_content(double content, double saturation, double base_bicarbonate) noexcept;

// Alveolar gas equation in full and short form, and the CO2 hyperbola; used by checks and charts.
double alveolar_po2(double fio2, double paco2_mmHg, double exchange_ratio) noexcept;
double alveolar_po2_short(double fio2, double paco2_mmHg, double exchange_ratio) noexcept;
double paco2_of(double vco2_mL_per_min, double alveolar_ventilation_L_per_min) noexcept;

}  // namespace phren::patient
