#include "patient/blood.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

constexpr double kHuefner_mL_per_g = 1.34;
constexpr double kDissolved_mL_per_dL_per_mmHg = 0.003;
constexpr double kCo2At40 = 520.0;  // mL/L
constexpr double kCo2Exponent = 0.36;
constexpr double kHaldane = 60.0;  // mL/L from empty to full haemoglobin
constexpr double kArterialSaturation = 0.975;

double cube_root(double x) noexcept {
  return x > 0.0 ? det::exp(det::log(x) / 3.0) : 0.0;
}

// Pressure at pH 7.40 that gives the saturation that po2 gives at this pH.
double at_standard_ph(double po2, double ph) noexcept {
  const double shift = ph - 7.40;
  if (shift > -1e-9 && shift < 1e-9) return po2;
  return po2 * det::exp(-dlnp_dph(po2) * shift);
}

}  // namespace

double saturation(double po2) noexcept {
  if (!(po2 > 0.0)) return 0.0;
  return 1.0 / (23400.0 / (po2 * po2 * po2 + 150.0 * po2) + 1.0);
}

double dlnp_dph(double po2) noexcept {
  return det::pow(po2 / 26.6, 0.184) - 2.2;
}

double saturation(double po2, double ph) noexcept {
  if (!(po2 > 0.0)) return 0.0;
  return saturation(at_standard_ph(po2, ph));
}

double po2_of_saturation(double s) noexcept {
  if (!(s > 0.0)) return 0.0;
  if (s > 0.99999) s = 0.99999;
  const double a = 11700.0 * s / (1.0 - s);
  const double b = det::sqrt(125000.0 + a * a);
  return cube_root(b + a) - cube_root(b - a);
}

double oxygen_content(double po2, double ph, double hb) noexcept {
  return 10.0 *
         (kHuefner_mL_per_g * hb * saturation(po2, ph) + kDissolved_mL_per_dL_per_mmHg * po2);
}

double po2_of_content(double content, double ph, double hb) noexcept {
  if (!(content > 0.0)) return 0.0;
  // Work at pH 7.40, where the curve is rational, then shift back; dissolved gas by iteration.
  const double full = 10.0 * kHuefner_mL_per_g * hb;
  double po2 = po2_of_saturation(content / full < 0.985 ? content / full : 0.985);
  for (int i = 0; i < 30; ++i) {
    const double c = oxygen_content(po2, ph, hb);
    const double h = 1e-3 * po2 + 1e-6;
    const double slope = (oxygen_content(po2 + h, ph, hb) - c) / h;
    double step = (content - c) / slope;
    if (step > po2) step = po2;                // at most double
    if (step < -0.6 * po2) step = -0.6 * po2;  // never below zero
    po2 += step;
    if (step < 1e-9 * po2 && step > -1e-9 * po2) break;
    if (po2 > 3000.0) return 3000.0;
  }
  return po2;
}

double bicarbonate(double pco2, double base) noexcept {
  // +1 mmol/L per +10 mmHg, -2 per -10 (textbook, from memory).
  const double d = pco2 - 40.0;
  const double hco3 = base + (d > 0.0 ? 0.1 * d : 0.2 * d) * base / 24.0;
  return hco3 > 1.0 ? hco3 : 1.0;
}

double ph_of(double pco2, double hco3) noexcept {
  return 6.1 + det::log10(hco3 / (0.0307 * (pco2 > 1.0 ? pco2 : 1.0)));
}

double co2_content(double pco2, double s, double base) noexcept {
  if (!(pco2 > 0.0)) return 0.0;
  return kCo2At40 * (base / 24.0) * det::pow(pco2 / 40.0, kCo2Exponent) +
         kHaldane * (kArterialSaturation - s);
}

double pco2_of_content(double content, double s, double base) noexcept {
  const double bound = (content - kHaldane * (kArterialSaturation - s)) / (kCo2At40 * base / 24.0);
  return 40.0 * det::pow(bound, 1.0 / kCo2Exponent);
}

double alveolar_po2(double fio2, double paco2, double r) noexcept {
  return fio2 * kDryPressure_mmHg - paco2 * (fio2 + (1.0 - fio2) / r);
}

double alveolar_po2_short(double fio2, double paco2, double r) noexcept {
  return fio2 * kDryPressure_mmHg - paco2 / r;
}

double paco2_of(double vco2, double va) noexcept {
  return 0.863 * vco2 / va;
}

}  // namespace phren::patient
