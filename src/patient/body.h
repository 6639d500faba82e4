// From mechanisms to physics: what a load of disease and treatment does to a healthy reference.
// These are the laws; how much of each mechanism a condition brings is data.
//
// Errors:  none; no allocation.
// Source:  resistance with the fourth power of radius; shapes of the other laws are our choice,
//          so that resistance, stiffness and shunt come out near our own table of severities.
#pragma once

#include "patient/circulation.h"
#include "patient/config.h"
#include "patient/gas_exchange.h"
#include "patient/mechanics.h"
#include "patient/person.h"

namespace phren::patient {

struct LobeShape {  // what acoustics needs of the airway
  double radius_ratio = 1.0;
  double choke_half_gap_mm = 1.5;
  double choke_width_mm = 8.0;
};

struct Body {
  MechanicsParameters mechanics;
  std::array<LobeShape, kLobes> shape;
  double upper_area_mm2 = 150.0;
  double upper_narrowing = 0.0;
  double lung_water_mean = 0.0;
};

// Standing shares of the lung by lobe: PMC7490509 table 3.
inline constexpr std::array<double, kLobes> kLobeShare{0.176, 0.085, 0.272, 0.224, 0.243};

// `water` is oedema that the circulation made, per lobe, on top of the load's.
Body body_of(const Person& person, const Reference& reference, Posture posture, const Load& load,
             const std::array<double, kLobes>& water) noexcept;
// Blood flow shares and gaps from load, gas in the lobes and alveolar PO2.
LungBlood lung_blood_of(const Reference& reference, Posture posture, const Load& load,
                        const std::array<double, kLobes>& water, const Mechanics& mechanics,
                        const GasExchange& gas) noexcept;
GasParameters gas_parameters_of(const Person& person, const Reference& reference) noexcept;
CirculationParameters circulation_parameters_of(const Person& person,
                                                const Reference& reference) noexcept;

}  // namespace phren::patient
