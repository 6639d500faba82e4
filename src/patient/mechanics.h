// The mechanics of breathing: five lobes behind one upper airway, two pleural spaces, one chest
// wall.
//
// Each lobe is an elastic volume behind a resistance that falls with lobe volume and, in
// expiration, a flow cap proportional to the volume above residual volume. The network has one
// unknown, the pressure at the carina, found by Newton's method. Pleural pressure follows from
// what fills each half of the chest. Hyperinflation, intrinsic PEEP, tension and collapse are not
// written anywhere: they come out.
//
// Integration: linearly implicit midpoint of our own, order 2, fixed step, stable for stiff lobes.
//          Boost.odeint and SUNDIALS CVODE integrate derivative() in the tests as judges; neither
//          stands here because the browser build has no exceptions and every platform must give
//          the same bits.
// Units:   L, s, cmH2O; flow into the lung and inspiratory effort are positive.
// Errors:  none; no allocation, no exception.
// Source:  lobe flow cap: standard reading of the flow-volume curve; conductance linear in volume:
//          Briscoe & DuBois 1958 (from memory); orifice law rho/2 (Q/(Cd A))^2 with Cd 0.7; the
//          saturating joint between free and limited flow is our choice.
// Limits:  gas in the lung is incompressible and has no inertia; intrapleural gas likewise.
#pragma once

#include <array>
#include <cstddef>

#include "exam/types.h"

namespace phren::patient {

inline constexpr std::size_t kLobes = exam::kNumLobes;

struct LobeParameters {
  double min_L = 0.1;      // gas volume at which recoil is zero
  double closing_L = 0.0;  // gas volume below which airways begin to close; 0 = never
  double rv_L = 0.25, frc_L = 0.6, tlc_L = 1.2;
  double recoil_linear_cmH2O_per_L = 1.0;
  double recoil_square_cmH2O_per_L2 = 10.0;
  double inspiratory_r_cmH2O_s_per_L = 6.0;  // at FRC
  double expiratory_r_cmH2O_s_per_L = 7.0;
  double emptying_rate_per_s = 2.5;     // flow cap = this x (volume - rv)
  double pleural_offset_cmH2O = 0.0;    // above the side's mean: hydrostatic
  double filled_L = 0.0;                // tissue or water where gas was
  double leak_L_per_s_per_cmH2O = 0.0;  // into the pleural space
};

struct SideParameters {
  double share = 0.5;  // of the chest's volume and muscles; both together 1
  double wall_compliance_L_per_cmH2O = 0.1;
  double wall_rest_L = 2.2;     // content at which the wall neither pulls nor pushes
  double wall_floor_L = 0.9;    // content below which the wall stiffens
  double wall_ceiling_L = 4.0;  // and above which it does
  double fluid_L = 0.0;
  double wound_L_per_s_per_cmH2O = 0.0;
  double valve = 0.0;   // 1: the lung leak only lets air out into the pleural space
  double sealed = 0.0;  // a wound under a vented cover: air comes out, not in
  double flail = 0.0;   // share of this side's wall that follows pleural pressure inwards
};

struct UpperAirwayParameters {
  double linear_cmH2O_s_per_L = 0.7;
  double orifice_cmH2O_s2_per_L2 = 0.45;         // extrathoracic: rho / 2 (Cd A)^2
  double collapse_cmH2O = 40.0;                  // suction that doubles the orifice's resistance
  double trachea_orifice_cmH2O_s2_per_L2 = 0.0;  // intrathoracic narrowing
  double glottis_brake_cmH2O_s_per_L = 0.0;      // grunting, speech: expiration only
  double whoop_cmH2O_s2_per_L2 = 0.0;            // a half-shut glottis: inspiration only
};

struct MechanicsParameters {
  std::array<LobeParameters, kLobes> lobe;
  std::array<SideParameters, 2> side;
  UpperAirwayParameters upper;
  double mediastinum_L_per_cmH2O = 0.02;
  double wall_load_cmH2O = 0.0;                 // obesity, lying flat
  double frc_L = 3.0, tlc_L = 6.0, rv_L = 1.4;  // the healthy person's, for muscle length
};

// What drives the network during one step.
struct Effort {
  double muscle_cmH2O = 0.0;   // inspiratory positive; expiratory muscles negative
  double opening_cmH2O = 0.0;  // pressure at the mouth
  bool is_flow_set = false;    // a machine sets the flow instead
  double set_flow_L_per_s = 0.0;
};

struct MechanicsState {
  std::array<double, kLobes> volume_L{};
  std::array<double, 2> pleural_gas_L{};
};

// Everything that follows from a state and an effort.
struct Flows {
  std::array<double, kLobes> lobe_L_per_s{};  // through the airways
  std::array<double, kLobes> leak_L_per_s{};  // lung to pleural space
  std::array<double, kLobes> alveolar_cmH2O{};
  std::array<double, kLobes> limitation{};  // 0 free .. 1 at the cap
  std::array<double, 2> wound_L_per_s{};    // outside to pleural space
  std::array<double, 2> pleural_cmH2O{};
  double carina_cmH2O = 0.0;
  double trachea_L_per_s = 0.0;
  double mouth_cmH2O = 0.0;
  double muscle_cmH2O = 0.0;         // mean, after the loss of strength at high volume
  double mediastinal_shift_L = 0.0;  // positive to the left
};

class Mechanics {
 public:
  explicit Mechanics(const MechanicsParameters& parameters) noexcept : p_(parameters) {}

  // Lungs at rest volume with no effort: the equilibrium of recoil and wall.
  void settle() noexcept;
  // Advances by dt_s; `effort` holds at the middle of the step.
  void step(const Effort& effort, double dt_s) noexcept;
  // Instantaneous flows for any state, for reference integrators: no history, no step.
  Flows derivative(const MechanicsState& state, const Effort& effort) const noexcept;

  MechanicsParameters& parameters() noexcept { return p_; }
  const MechanicsParameters& parameters() const noexcept { return p_; }
  const MechanicsState& state() const noexcept { return s_; }
  MechanicsState& state() noexcept { return s_; }
  const Flows& flows() const noexcept { return f_; }  // at the middle of the last step
  double gas_L() const noexcept;

  double recoil_cmH2O(std::size_t lobe, double volume_L) const noexcept;
  double recoil_slope_cmH2O_per_L(std::size_t lobe, double volume_L) const noexcept;
  // All that fills one side of the chest: gas and airless tissue of its lobes, pleural gas, fluid.
  double content_L(const MechanicsState& state, std::size_t side) const noexcept;
  // Share of muscle strength left when the chest is so full: 1 at FRC, falling as fibres shorten.
  double muscle_length_factor(double filling_L) const noexcept;

 private:
  void pleura(const MechanicsState& state, double muscle_cmH2O, Flows& f) const noexcept;
  void leaks(const MechanicsState& state, Flows& f) const noexcept;  // after network()
  void bound_outflow(double dt_s) noexcept;
  void network(const MechanicsState& state, const Effort& effort,
               const std::array<double, kLobes>& previous, double half_dt_s, double carina_guess,
               Flows& f) const noexcept;

  MechanicsParameters p_;
  MechanicsState s_;
  Flows f_;
};

// Orifice coefficient rho / 2 (Cd A)^2 in cmH2O s^2/L^2 for an area in mm^2.
double orifice_cmH2O_s2_per_L2(double area_mm2) noexcept;
double jet_speed_m_per_s(double flow_L_per_s, double area_mm2) noexcept;

}  // namespace phren::patient
