#include "patient/gas_exchange.h"

#include "base/det_math.h"
#include "patient/mechanism.h"

namespace phren::patient {
namespace {

constexpr double kLowVqReach = 0.25;
constexpr double kLowVqHeld =
    0.3;  // of the CO2 that blood past badly aired alveoli keeps (our choice)
constexpr double kMostCellTurnover = 0.8;
constexpr double kFullSupply = 0.34;    // mixed venous saturation below which tissues go short
constexpr double kBufferedAcid = 0.70;  // share of lactate that bicarbonate pays for
constexpr double kFreedCo2_mL_per_mmol = 9.0;     // of 22.3: most of it is caught by tissue buffers
constexpr double kMostLactate_mmol_per_L = 30.0;  // no more fuel, too much acid
constexpr double kOxygenHalfLife_s = 74.0 * 60.0, kMaskPo2_mmHg = 450.0;
constexpr double kStpd_mL_per_L = kStpd_mL_per_L_per_mmHg * kDryPressure_mmHg;

using det::absolute;
using det::clamp;

}  // namespace

double GasExchange::base_bicarbonate() const noexcept {
  const double b = p_.base_bicarbonate_mmol_per_L - kBufferedAcid * s_.lactate_mmol_per_L;
  return b > 3.0 ? b : 3.0;
}

// A curve moved along its PO2 axis, and less haemoglobin to fill: fetal blood, carbon monoxide.
double GasExchange::saturation_at(double po2, double ph) const noexcept {
  const double ratio = p_.half_saturation_ratio * (1.0 - 0.5 * s_.carboxyhaemoglobin);
  return saturation(po2 / ratio, ph);
}
double GasExchange::content_at(double po2, double ph) const noexcept {
  const double ratio = p_.half_saturation_ratio * (1.0 - 0.5 * s_.carboxyhaemoglobin);
  if (ratio > 0.999999 && ratio < 1.000001) {
    return oxygen_content(po2, ph, p_.haemoglobin_g_per_dL);
  }
  // Dissolved gas follows the true pressure; the small difference is left out.
  return oxygen_content(po2 / ratio, ph, p_.haemoglobin_g_per_dL * (1.0 - s_.carboxyhaemoglobin));
}
double GasExchange::po2_at(double content, double ph) const noexcept {
  const double ratio = p_.half_saturation_ratio * (1.0 - 0.5 * s_.carboxyhaemoglobin);
  return ratio *
         po2_of_content(content, ph, p_.haemoglobin_g_per_dL * (1.0 - s_.carboxyhaemoglobin));
}

void GasExchange::take_up_carbon_monoxide(double share) noexcept {
  const double taken = clamp(share, 0.0, 0.9) * (1.0 - s_.carboxyhaemoglobin);
  s_.carboxyhaemoglobin = clamp(s_.carboxyhaemoglobin + taken, 0.0, 0.8);
}

void GasExchange::fill(const MechanicsState& lung, double paco2, double pao2,
                       double output) noexcept {
  const Gas alveolar{pao2 / kDryPressure_mmHg, paco2 / kDryPressure_mmHg};
  s_.airway.fill(alveolar);
  s_.bronchus.fill(alveolar);
  for (std::size_t i = 0; i < kLobes; ++i) {
    s_.alveolus[i] = {alveolar.o2 * lung.volume_L[i], alveolar.co2 * lung.volume_L[i]};
  }
  for (std::size_t k = 0; k < 2; ++k) {
    s_.pleura[k] = {kAirOxygenFraction * lung.pleural_gas_L[k], 0.0};
  }
  set_lung_gas(lung);
  const double base = base_bicarbonate();
  const double ph = ph_of(paco2, bicarbonate(paco2, base));
  s_.arterial.o2 = content_at(pao2 - 8.0, ph);
  s_.arterial.co2 = co2_content(paco2, 0.97, base);
  s_.venous_o2 = s_.arterial.o2 - p_.oxygen_use_mL_per_s / output;
  svo2_ = s_.venous_o2 / (13.4 * p_.haemoglobin_g_per_dL);
  const double venous_co2 = s_.arterial.co2 + p_.exchange_ratio * p_.oxygen_use_mL_per_s / output;
  const double tissue = pco2_of_content(venous_co2, svo2_, base);
  s_.fast_co2_mL = tissue * p_.fast_co2_mL_per_mmHg;
  s_.slow_co2_mL = tissue * p_.slow_co2_mL_per_mmHg;
  refresh_arterial();
}

void GasExchange::transport(const Flows& f, const Gas& inspired, double dt) noexcept {
  // Upwind cells must not be emptied more than once per step; coughs take several.
  double turnover = absolute(f.trachea_L_per_s) * dt / (p_.common_dead_space_L / kAirwayCells);
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double t = absolute(f.lobe_L_per_s[i]) * dt / p_.lobar_dead_space_L[i];
    if (t > turnover) turnover = t;
  }
  int parts = 1 + static_cast<int>(turnover / kMostCellTurnover);
  if (parts > 64) parts = 64;
  for (int n = 0; n < parts; ++n) move(f, inspired, dt / parts);
}

void GasExchange::move(const Flows& f, const Gas& inspired, double dt) noexcept {
  const double trachea = f.trachea_L_per_s * dt;
  // What meets at the carina.
  double meeting = trachea > 0.0 ? trachea : 0.0;
  Gas node{meeting * s_.airway[kAirwayCells - 1].o2, meeting * s_.airway[kAirwayCells - 1].co2};
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double v = -f.lobe_L_per_s[i] * dt;
    if (v <= 0.0) continue;
    meeting += v;
    node.o2 += v * s_.bronchus[i].o2;
    node.co2 += v * s_.bronchus[i].co2;
  }
  if (meeting > 0.0) {
    node.o2 /= meeting;
    node.co2 /= meeting;
  }
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double v = f.lobe_L_per_s[i] * dt;
    Gas& alveolus = s_.alveolus[i];
    Gas& bronchus = s_.bronchus[i];
    const double turnover = absolute(v) / p_.lobar_dead_space_L[i];
    const double volume = lung_L_[i] > 1e-9 ? lung_L_[i] : 1e-9;
    Gas& dead = s_.dead[i];
    const double u = unperfused_[i];
    // Gas that leaves is the lobe's mixture: perfused and unperfused parts empty alike.
    const Gas inside{(alveolus.o2 + dead.o2) / volume, (alveolus.co2 + dead.co2) / volume};
    const Gas& into_bronchus = v > 0.0 ? node : inside;
    if (v > 0.0) {
      alveolus.o2 += (1.0 - u) * v * bronchus.o2;
      alveolus.co2 += (1.0 - u) * v * bronchus.co2;
      dead.o2 += u * v * bronchus.o2;
      dead.co2 += u * v * bronchus.co2;
    } else {
      scale_lobe(i, v / volume);
    }
    bronchus = {bronchus.o2 + turnover * (into_bronchus.o2 - bronchus.o2),
                bronchus.co2 + turnover * (into_bronchus.co2 - bronchus.co2)};
    lung_L_[i] += v;
    if (f.leak_L_per_s[i] != 0.0) leak(i, f.leak_L_per_s[i] * dt);
  }
  const double turnover = absolute(trachea) / (p_.common_dead_space_L / kAirwayCells);
  if (trachea > 0.0) {
    for (std::size_t k = kAirwayCells; k-- > 0;) {
      const Gas up = k == 0 ? inspired : s_.airway[k - 1];
      s_.airway[k].o2 += turnover * (up.o2 - s_.airway[k].o2);
      s_.airway[k].co2 += turnover * (up.co2 - s_.airway[k].co2);
    }
    ledger_.breathed_in.o2 += trachea * inspired.o2 * kStpd_mL_per_L;
    ledger_.breathed_in.co2 += trachea * inspired.co2 * kStpd_mL_per_L;
  } else if (trachea < 0.0) {
    ledger_.breathed_out.o2 -= trachea * s_.airway[0].o2 * kStpd_mL_per_L;
    ledger_.breathed_out.co2 -= trachea * s_.airway[0].co2 * kStpd_mL_per_L;
    for (std::size_t k = 0; k < kAirwayCells; ++k) {
      const Gas up = k + 1 == kAirwayCells ? node : s_.airway[k + 1];
      s_.airway[k].o2 += turnover * (up.o2 - s_.airway[k].o2);
      s_.airway[k].co2 += turnover * (up.co2 - s_.airway[k].co2);
    }
  }
  for (std::size_t k = 0; k < 2; ++k) {
    const double in = f.wound_L_per_s[k] * dt;
    if (in > 0.0) {
      s_.pleura[k].o2 += in * kAirOxygenFraction;
      ledger_.breathed_in.o2 += in * kAirOxygenFraction * kStpd_mL_per_L;
    } else if (in < 0.0) {
      const Gas out = take_pleural(k, -in);
      ledger_.breathed_out.o2 += out.o2 * kStpd_mL_per_L;
      ledger_.breathed_out.co2 += out.co2 * kStpd_mL_per_L;
    }
    pleura_L_[k] += in;
  }
}

// A volume (L) through the hole between a lobe and its pleural space; negative: back into the lobe.
void GasExchange::leak(std::size_t i, double volume_L) noexcept {
  const std::size_t k = side_index(i);
  if (volume_L > 0.0) {
    const double held = lung_L_[i] > 1e-9 ? lung_L_[i] : 1e-9;
    const Gas before{s_.alveolus[i].o2 + s_.dead[i].o2, s_.alveolus[i].co2 + s_.dead[i].co2};
    scale_lobe(i, -volume_L / held);
    s_.pleura[k].o2 += before.o2 - s_.alveolus[i].o2 - s_.dead[i].o2;
    s_.pleura[k].co2 += before.co2 - s_.alveolus[i].co2 - s_.dead[i].co2;
  } else {
    const Gas back = take_pleural(k, -volume_L);
    const double u = unperfused_[i];
    s_.alveolus[i].o2 += (1.0 - u) * back.o2;
    s_.alveolus[i].co2 += (1.0 - u) * back.co2;
    s_.dead[i].o2 += u * back.o2;
    s_.dead[i].co2 += u * back.co2;
  }
  pleura_L_[k] += volume_L;
  lung_L_[i] -= volume_L;
}

// What a volume (L) of pleural gas takes with it: the space is mixed.
Gas GasExchange::take_pleural(std::size_t side, double volume_L) noexcept {
  Gas& held = s_.pleura[side];
  const double share =
      clamp(volume_L / (pleura_L_[side] > 1e-9 ? pleura_L_[side] : 1e-9), 0.0, 1.0);
  const Gas taken{share * held.o2, share * held.co2};
  held.o2 -= taken.o2;
  held.co2 -= taken.co2;
  return taken;
}

void GasExchange::scale_lobe(std::size_t i, double change) noexcept {
  s_.alveolus[i].o2 += change * s_.alveolus[i].o2;
  s_.alveolus[i].co2 += change * s_.alveolus[i].co2;
  s_.dead[i].o2 += change * s_.dead[i].o2;
  s_.dead[i].co2 += change * s_.dead[i].co2;
}

// Moves a volume (L) of gas from the unperfused to the perfused part, or back if negative.
void GasExchange::hand_over(std::size_t i, double volume_L) noexcept {
  Gas& from = volume_L > 0.0 ? s_.dead[i] : s_.alveolus[i];
  Gas& to = volume_L > 0.0 ? s_.alveolus[i] : s_.dead[i];
  const double part = volume_L > 0.0 ? unperfused_[i] : 1.0 - unperfused_[i];
  const double held = part * lung_L_[i];
  if (!(held > 1e-12)) return;
  const double share = clamp((volume_L > 0.0 ? volume_L : -volume_L) / held, 0.0, 1.0);
  const Gas moved{share * from.o2, share * from.co2};
  from.o2 -= moved.o2;
  from.co2 -= moved.co2;
  to.o2 += moved.o2;
  to.co2 += moved.co2;
}

void GasExchange::set_unperfused(const std::array<double, kLobes>& share) noexcept {
  for (std::size_t i = 0; i < kLobes; ++i) {
    hand_over(i, (unperfused_[i] - share[i]) * lung_L_[i]);
    unperfused_[i] = share[i];
  }
}

double GasExchange::alveolar_po2_mmHg(std::size_t i) const noexcept {
  const double perfused = (1.0 - unperfused_[i]) * lung_L_[i];
  const double v = perfused > 1e-6 ? perfused : 1e-6;
  return clamp(s_.alveolus[i].o2 / v * kDryPressure_mmHg, 0.0, kDryPressure_mmHg);
}

double GasExchange::alveolar_pco2_mmHg(std::size_t i) const noexcept {
  const double perfused = (1.0 - unperfused_[i]) * lung_L_[i];
  const double v = perfused > 1e-6 ? perfused : 1e-6;
  return clamp(s_.alveolus[i].co2 / v * kDryPressure_mmHg, 0.0, 250.0);
}

std::array<double, kLobes> GasExchange::exchange(const MechanicsState& lung, const LungBlood& blood,
                                                 double output, double dt) noexcept {
  set_lung_gas(lung);
  const double base = base_bicarbonate();
  const double tissue_pco2 = s_.fast_co2_mL / p_.fast_co2_mL_per_mmHg;
  const double venous_ph = ph_of(tissue_pco2, bicarbonate(tissue_pco2, base));
  pvo2_ = po2_at(s_.venous_o2, venous_ph);
  svo2_ = saturation_at(pvo2_, venous_ph);
  const double venous_co2 = co2_content(tissue_pco2, svo2_, base);
  std::array<double, kLobes> net{};
  Gas leaving{s_.venous_o2, venous_co2};  // blood after the lung
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double q = blood.share[i] * output * dt;  // L of blood
    if (q <= 0.0) continue;
    const double po2 = alveolar_po2_mmHg(i);
    const double pco2 = alveolar_pco2_mmHg(i);
    const double ph = ph_of(pco2, bicarbonate(pco2, base));
    const double end_po2 = pvo2_ + (po2 - pvo2_) * blood.diffusion[i];
    const double low_po2 = pvo2_ + (po2 - pvo2_) * kLowVqReach;
    const double end_s = saturation_at(end_po2, ph);
    const double end_o2 = content_at(end_po2, ph);
    const double low_o2 = content_at(low_po2, ph);
    const double meets = 1.0 - blood.shunt[i];
    const double low = blood.low_vq[i] < meets ? blood.low_vq[i] : meets;
    double o2 = q * ((meets - low) * (end_o2 - s_.venous_o2) + low * (low_o2 - s_.venous_o2));
    double co2 = q * (meets - kLowVqHeld * low) * (venous_co2 - co2_content(pco2, end_s, base));
    // A nearly airless lobe cannot give more than it holds.
    const double o2_held = s_.alveolus[i].o2 * kStpd_mL_per_L;
    const double co2_held = s_.alveolus[i].co2 * kStpd_mL_per_L;
    o2 = clamp(o2, -0.5 * o2_held - 1e-6, 0.5 * o2_held);
    co2 = clamp(co2, -0.5 * co2_held, 0.5 * co2_held + 0.02 * lung.volume_L[i] * kStpd_mL_per_L);
    s_.alveolus[i].o2 -= o2 / kStpd_mL_per_L;
    s_.alveolus[i].co2 += co2 / kStpd_mL_per_L;
    net[i] = (o2 - co2) / kStpd_mL_per_L;
    // The lobe shrinks as a whole, so its unperfused part makes up for its share.
    hand_over(i, unperfused_[i] * net[i]);
    leaving.o2 += o2 / (output * dt);
    leaving.co2 -= co2 / (output * dt);
  }
  // Arterial blood, then tissue. Each flux leaves one store and enters the next.
  const double flow = output * dt;
  const Gas arterial = s_.arterial;
  s_.arterial.o2 += flow * (leaving.o2 - arterial.o2) / p_.arterial_blood_L;
  s_.arterial.co2 += flow * (leaving.co2 - arterial.co2) / p_.arterial_blood_L;
  tissue(flow, arterial, tissue_pco2, venous_co2, dt);
  refresh_arterial();
  return net;
}

void GasExchange::tissue(double flow, const Gas& arterial, double tissue_pco2, double venous_co2,
                         double dt) noexcept {
  const double need = p_.oxygen_use_mL_per_s * dt;
  const double full = 13.4 * p_.haemoglobin_g_per_dL * kFullSupply;
  const double met = s_.venous_o2 < full ? s_.venous_o2 / full : 1.0;
  const double used = need * met;
  deficit_ = 1.0 - met;
  s_.venous_o2 += (flow * (arterial.o2 - s_.venous_o2) - used) / p_.venous_store_L;
  // Oxygen debt makes fixed acid until fuel and pH forbid it. Liver and heart clear it while they
  // are fed, half in about twenty minutes (textbook, from memory).
  const double room = clamp(1.0 - s_.lactate_mmol_per_L / kMostLactate_mmol_per_L, 0.0, 1.0);
  const double acid = 0.2 * (need - used) * room / p_.blood_for_acid_L;
  const double cleared = s_.lactate_mmol_per_L * dt / 1750.0 * met * met;
  s_.lactate_mmol_per_L += acid - cleared;
  const double freed = kFreedCo2_mL_per_mmol * p_.blood_for_acid_L * (acid - cleared);
  const double made = p_.exchange_ratio * used + 0.1 * (need - used) + freed;
  const double slow_pco2 = s_.slow_co2_mL / p_.slow_co2_mL_per_mmHg;
  const double to_slow = p_.slow_co2_exchange_mL_per_s_per_mmHg * (tissue_pco2 - slow_pco2) * dt;
  s_.fast_co2_mL += made + flow * (arterial.co2 - venous_co2) - to_slow;
  s_.slow_co2_mL += to_slow;
  ledger_.oxygen_used_mL += used;
  ledger_.co2_made_mL += made;
  // Carbon monoxide leaves as oxygen pushes it off.
  if (s_.carboxyhaemoglobin > 0.0) {
    const double push = det::pow((pao2_ > 20.0 ? pao2_ : 20.0) / kMaskPo2_mmHg, 0.9);
    s_.carboxyhaemoglobin *= 1.0 - dt * det::kLn2 / kOxygenHalfLife_s * push;
  }
}

void GasExchange::refresh_arterial() noexcept {
  const double base = base_bicarbonate();
  const double full = 13.4 * p_.haemoglobin_g_per_dL * (1.0 - s_.carboxyhaemoglobin);
  const double s_guess = clamp(s_.arterial.o2 / full, 0.0, 0.99);
  paco2_ = clamp(pco2_of_content(s_.arterial.co2, s_guess, base), 1.0, 300.0);
  ph_ = ph_of(paco2_, bicarbonate(paco2_, base));
  pao2_ = po2_at(s_.arterial.o2, ph_);
  sao2_ = saturation_at(pao2_, ph_);
}

double GasExchange::total_oxygen_mL() const noexcept {
  double lung = 0.0;
  for (const Gas& g : s_.airway) lung += g.o2 * p_.common_dead_space_L / kAirwayCells;
  for (std::size_t i = 0; i < kLobes; ++i) {
    lung += s_.alveolus[i].o2 + s_.dead[i].o2 + s_.bronchus[i].o2 * p_.lobar_dead_space_L[i];
  }
  lung += s_.pleura[0].o2 + s_.pleura[1].o2;
  return lung * kStpd_mL_per_L + s_.arterial.o2 * p_.arterial_blood_L +
         s_.venous_o2 * p_.venous_store_L;
}

double GasExchange::total_co2_mL() const noexcept {
  double lung = 0.0;
  for (const Gas& g : s_.airway) lung += g.co2 * p_.common_dead_space_L / kAirwayCells;
  for (std::size_t i = 0; i < kLobes; ++i) {
    lung += s_.alveolus[i].co2 + s_.dead[i].co2 + s_.bronchus[i].co2 * p_.lobar_dead_space_L[i];
  }
  lung += s_.pleura[0].co2 + s_.pleura[1].co2;
  return lung * kStpd_mL_per_L + s_.arterial.co2 * p_.arterial_blood_L + s_.fast_co2_mL +
         s_.slow_co2_mL;
}

}  // namespace phren::patient
