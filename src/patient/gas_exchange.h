// Oxygen and carbon dioxide from the mouth to the tissues: airway gas, alveoli, blood, stores.
//
// Airway gas moves by upwind cells (a chain of common dead space, one cell per lobe), so the
// capnogram is what really arrives at the mouth. Blood passes each lobe, a share of it past airless
// or poorly ventilated alveoli. Every flux leaves one store and enters another.
//
// Units:   gas amounts in the lung in L BTPS of that species; exchange in mL STPD; blood contents
//          mL STPD per L; blood flow L/s.
// Errors:  none; no allocation.
// Acid that tissues make when short of oxygen takes bicarbonate and sets CO2 free, so that CO2
// rises in every closed airway.
//
// Source:  stores: Farhi & Rahn 1955 (half-times), Stock 1988 (apnoeic rise); curve: blood.h.
//          oxygen use falls with delivery below a critical extraction of about two thirds (scilit
//          be59cb24); lactate 0.2 mmol per mL of oxygen debt (stoichiometry); CO2 set free per acid
//          from the closed system with buffers of 20 mmol/L per pH (worked out); carbon monoxide
//          half-life 74 min on a mask (Weaver 2000) in proportion to oxygen, curve shifted left.
//          Low-V/Q blood equilibrates a quarter of the way to alveolar PO2: our choice.
// Limits:  nitrogen leaves only through the mouth; ventilation inside one lobe is even.
#pragma once

#include <array>

#include "patient/blood.h"
#include "patient/mechanics.h"

namespace phren::patient {

inline constexpr std::size_t kAirwayCells = 6;
inline constexpr double kAirOxygenFraction = 0.2094;

struct Gas {  // dry fractions, or amounts
  double o2 = 0.0, co2 = 0.0;
};

struct GasParameters {
  double common_dead_space_L = 0.1;
  std::array<double, kLobes> lobar_dead_space_L{};
  double haemoglobin_g_per_dL = 14.0;
  double half_saturation_ratio = 1.0;  // PO2 at half saturation over an adult's
  double base_bicarbonate_mmol_per_L = 24.0;
  double oxygen_use_mL_per_s = 4.0;
  double exchange_ratio = 0.8;
  double arterial_blood_L = 1.0;
  double venous_store_L = 3.9;         // mixed venous blood and tissue, as blood
  double fast_co2_mL_per_mmHg = 29.0;  // well perfused tissue and blood
  double slow_co2_mL_per_mmHg = 60.0;  // muscle and fat
  double slow_co2_exchange_mL_per_s_per_mmHg = 0.10;
  double blood_for_acid_L = 28.0;  // space that shares fixed acid
};

struct LungBlood {                      // how blood meets gas, per lobe; refreshed once a second
  std::array<double, kLobes> share{};   // of pulmonary blood flow, sum 1
  std::array<double, kLobes> shunt{};   // share of the lobe's flow that meets no gas
  std::array<double, kLobes> low_vq{};  // share that meets poorly ventilated gas
  std::array<double, kLobes> unperfused{};  // share of the lobe's gas that meets no blood
  std::array<double, kLobes> diffusion{};   // 1 = full equilibrium with alveolar gas
  double conductance = 1.0;                 // of all lung vessels, 1 = healthy
};

struct GasState {
  std::array<Gas, kAirwayCells> airway{};  // fractions; 0 at the mouth
  std::array<Gas, kLobes> bronchus{};      // fractions
  std::array<Gas, kLobes> alveolus{};      // amounts, L BTPS, where blood flows
  std::array<Gas, kLobes> dead{};          // amounts, L BTPS, ventilated without blood
  std::array<Gas, 2> pleura{};             // amounts, L BTPS
  Gas arterial{};                          // contents, mL/L
  double venous_o2 = 0.0;                  // content, mL/L
  double fast_co2_mL = 0.0, slow_co2_mL = 0.0;
  double lactate_mmol_per_L = 0.0;
  double carboxyhaemoglobin = 0.0;  // share of all haemoglobin
};

struct GasLedger {  // what has crossed the border of the body, mL STPD
  Gas breathed_in{}, breathed_out{};
  double oxygen_used_mL = 0.0, co2_made_mL = 0.0;
};

class GasExchange {
 public:
  explicit GasExchange(const GasParameters& parameters) noexcept : p_(parameters) {}

  // Fills all stores for a healthy resting body: PaCO2 and PAO2 as given.
  void fill(const MechanicsState& lung, double paco2_mmHg, double pao2_mmHg,
            double output_L_per_s) noexcept;
  // Moves gas with the flows of one step. `before` is the lung before that step.
  void transport(const Flows& flows, const Gas& inspired, double dt_s) noexcept;
  // Blood and tissue for dt_s. Returns the net gas volume (L BTPS) each lobe lost to blood.
  std::array<double, kLobes> exchange(const MechanicsState& lung, const LungBlood& blood,
                                      double output_L_per_s, double dt_s) noexcept;

  // Share of each lobe's gas without blood; gas changes hands, none is lost.
  void set_unperfused(const std::array<double, kLobes>& share) noexcept;

  GasParameters& parameters() noexcept { return p_; }
  const GasState& state() const noexcept { return s_; }
  const GasLedger& ledger() const noexcept { return ledger_; }
  void set_lung_gas(const MechanicsState& lung) noexcept {
    lung_L_ = lung.volume_L;
    pleura_L_ = lung.pleural_gas_L;
  }

  double alveolar_po2_mmHg(std::size_t lobe) const noexcept;
  double alveolar_pco2_mmHg(std::size_t lobe) const noexcept;
  double mouth_pco2_mmHg() const noexcept { return s_.airway[0].co2 * kDryPressure_mmHg; }
  double mouth_o2_fraction() const noexcept { return s_.airway[0].o2; }
  // Arterial blood as last computed.
  double pao2_mmHg() const noexcept { return pao2_; }
  double paco2_mmHg() const noexcept { return paco2_; }
  double sao2() const noexcept { return sao2_; }  // of the haemoglobin that can carry oxygen
  double carried() const noexcept { return sao2_ * (1.0 - s_.carboxyhaemoglobin); }
  double carboxyhaemoglobin() const noexcept { return s_.carboxyhaemoglobin; }
  void take_up_carbon_monoxide(double share) noexcept;              // of what is still free
  double saturation_at(double po2_mmHg, double ph) const noexcept;  // of this blood
  double venous_po2_mmHg() const noexcept { return pvo2_; }
  double ph() const noexcept { return ph_; }
  double venous_saturation() const noexcept { return svo2_; }
  double base_bicarbonate() const noexcept;
  double oxygen_deficit() const noexcept { return deficit_; }  // share of need not met, 0..1
  double total_oxygen_mL() const noexcept;                     // in every store
  double total_co2_mL() const noexcept;

 private:
  double content_at(double po2_mmHg, double ph) const noexcept;
  double po2_at(double content, double ph) const noexcept;
  void tissue(double flow, const Gas& arterial, double tissue_pco2, double venous_co2,
              double dt_s) noexcept;
  void move(const Flows& flows, const Gas& inspired, double dt_s) noexcept;
  void refresh_arterial() noexcept;
  void scale_lobe(std::size_t lobe, double change) noexcept;
  void hand_over(std::size_t lobe, double volume_L) noexcept;
  void leak(std::size_t lobe, double volume_L) noexcept;
  Gas take_pleural(std::size_t side, double volume_L) noexcept;

  GasParameters p_;
  GasState s_;
  GasLedger ledger_;
  std::array<double, kLobes> lung_L_{}, unperfused_{};
  std::array<double, 2> pleura_L_{};
  double pao2_ = 95.0, paco2_ = 40.0, sao2_ = 0.97, ph_ = 7.4, svo2_ = 0.75, deficit_ = 0.0;
  double pvo2_ = 40.0;
};

}  // namespace phren::patient
