#include "patient/mechanics.h"

#include "base/det_math.h"
#include "patient/mechanism.h"

namespace phren::patient {
namespace {

constexpr double kHalfDensityPerCmH2O = 5812.0;  // rho/2 1e6 / 98.07 with rho 1.14 kg/m^3
constexpr double kDischarge = 0.7;
constexpr double kTrickle = 0.06;  // flow cap below residual volume, share of the normal slope
constexpr double kLastGas_cmH2O = 450.0;
constexpr double kLeastConductance = 0.08;
constexpr double kCeiling_cmH2O = 300.0;  // a chest filled beyond its total capacity
constexpr double kHeldBack_cmH2O = 25.0;  // suction in a lobe at which no gas leaves it by a hole
constexpr double kTornWider_cmH2O = 8.0;  // drive that stretches a hole to twice its size
constexpr double kMuscleLostAtTlc = 0.55;
constexpr int kMostIterations = 60;
constexpr double kMostPressure_cmH2O = 5000.0;
constexpr double kFlowTolerance_L_per_s = 1e-11;

using det::absolute;

// max(x, 0) with a rounded corner of width w.
double soft_positive(double x, double w) noexcept {
  return 0.5 * (x + det::sqrt(x * x + w * w));
}

struct FlowAndSlope {
  double flow, slope;
};

// Upper airway: flow for a pressure difference mouth minus carina.
FlowAndSlope upper_flow(const UpperAirwayParameters& u, double drop) noexcept {
  const double d = absolute(drop);
  const bool in = drop > 0.0;
  // Suction narrows the throat; pressure within the chest squeezes the trachea when breathing out.
  const double base = u.orifice_cmH2O_s2_per_L2 + u.trachea_orifice_cmH2O_s2_per_L2 +
                      (in ? u.whoop_cmH2O_s2_per_L2 : 0.0);
  const double growth =
      (in ? u.orifice_cmH2O_s2_per_L2 : u.trachea_orifice_cmH2O_s2_per_L2) / u.collapse_cmH2O;
  const double k1 = u.linear_cmH2O_s_per_L + (in ? 0.0 : u.glottis_brake_cmH2O_s_per_L);
  const double k2 = base + growth * d;
  const double flow = 2.0 * d / (k1 + det::sqrt(k1 * k1 + 4.0 * k2 * d));
  const double slope = (1.0 - growth * flow * flow) / (k1 + 2.0 * k2 * flow);
  return {in ? flow : -flow, slope};
}

}  // namespace

double orifice_cmH2O_s2_per_L2(double area_mm2) noexcept {
  const double a = kDischarge * (area_mm2 > 0.3 ? area_mm2 : 0.3);
  return kHalfDensityPerCmH2O / (a * a);
}

double jet_speed_m_per_s(double flow, double area_mm2) noexcept {
  return 1000.0 * absolute(flow) / (kDischarge * (area_mm2 > 0.3 ? area_mm2 : 0.3));
}

double Mechanics::recoil_cmH2O(std::size_t i, double v) const noexcept {
  const LobeParameters& l = p_.lobe[i];
  const double y = v - l.min_L;
  double p = y * (l.recoil_linear_cmH2O_per_L + l.recoil_square_cmH2O_per_L2 * absolute(y));
  const double over = v - 0.97 * l.tlc_L;
  if (over > 0.0) p += 2000.0 * over * over / (l.tlc_L * l.tlc_L);
  // The last gas cannot be pressed or sucked out.
  const double m = l.min_L * l.min_L + 1e-6;
  if (y < 0.0) p -= kLastGas_cmH2O * y * y / m;
  if (v < 0.0) p -= 1e4 * v * v / m;
  return p;
}

double Mechanics::recoil_slope_cmH2O_per_L(std::size_t i, double v) const noexcept {
  const LobeParameters& l = p_.lobe[i];
  const double y = v - l.min_L;
  double e = l.recoil_linear_cmH2O_per_L + 2.0 * l.recoil_square_cmH2O_per_L2 * absolute(y);
  const double over = v - 0.97 * l.tlc_L;
  if (over > 0.0) e += 4000.0 * over / (l.tlc_L * l.tlc_L);
  const double m = l.min_L * l.min_L + 1e-6;
  if (y < 0.0) e -= 2.0 * kLastGas_cmH2O * y / m;
  if (v < 0.0) e -= 2e4 * v / m;
  return e;
}

double Mechanics::muscle_length_factor(double filling_L) const noexcept {
  const double x = (filling_L - p_.frc_L) / (p_.tlc_L - p_.frc_L);
  if (x <= 0.0) return 1.0;
  const double left = 1.0 - kMuscleLostAtTlc * x;
  return left > 0.05 ? left : 0.05;
}

double Mechanics::gas_L() const noexcept {
  double sum = 0.0;
  for (double v : s_.volume_L) sum += v;
  return sum;
}

double Mechanics::content_L(const MechanicsState& s, std::size_t side) const noexcept {
  double sum = s.pleural_gas_L[side] + p_.side[side].fluid_L;
  for (std::size_t i = 0; i < kLobes; ++i) {
    if (side_index(i) == side) sum += s.volume_L[i] + p_.lobe[i].filled_L;
  }
  return sum;
}

void Mechanics::pleura(const MechanicsState& s, double muscle, Flows& f) const noexcept {
  double gas = 0.0;
  for (double v : s.volume_L) gas += v;
  std::array<double, 2> wall{}, effort{};
  for (std::size_t k = 0; k < 2; ++k) {
    const SideParameters& side = p_.side[k];
    const double content = content_L(s, k);
    // Muscles shorten with the gas in the lungs and with what else fills their side of the chest.
    const double filling = gas + (s.pleural_gas_L[k] + side.fluid_L) / side.share;
    effort[k] = muscle > 0.0 ? muscle * muscle_length_factor(filling) : muscle;
    // What the loose piece of wall is sucked in does not reach the lung.
    effort[k] *= 1.0 - side.flail;
    wall[k] = (content - side.wall_rest_L) / side.wall_compliance_L_per_cmH2O;
    const double under = side.wall_floor_L - content;
    if (under > 0.0) wall[k] -= 400.0 * under * under / (side.wall_floor_L * side.wall_floor_L);
    const double over = content - side.wall_ceiling_L;
    if (over > 0.0)
      wall[k] += kCeiling_cmH2O * over * over / (side.wall_ceiling_L * side.wall_ceiling_L);
  }
  f.muscle_cmH2O = effort[0] + p_.side[1].share * (effort[1] - effort[0]);
  // The mediastinum gives way to a difference of pressure and shares it between the sides.
  const double c0 = p_.side[0].wall_compliance_L_per_cmH2O;
  const double c1 = p_.side[1].wall_compliance_L_per_cmH2O;
  const double cm = p_.mediastinum_L_per_cmH2O;
  const double difference =
      (wall[0] - effort[0] - wall[1] + effort[1]) / (1.0 + cm * (1.0 / c0 + 1.0 / c1));
  f.mediastinal_shift_L = cm * difference;
  f.pleural_cmH2O[0] = wall[0] - f.mediastinal_shift_L / c0 + p_.wall_load_cmH2O - effort[0];
  f.pleural_cmH2O[1] = wall[1] + f.mediastinal_shift_L / c1 + p_.wall_load_cmH2O - effort[1];
  for (std::size_t i = 0; i < kLobes; ++i) {
    f.alveolar_cmH2O[i] = f.pleural_cmH2O[side_index(i)] + p_.lobe[i].pleural_offset_cmH2O +
                          recoil_cmH2O(i, s.volume_L[i]);
  }
}

void Mechanics::leaks(const MechanicsState& s, Flows& f) const noexcept {
  for (std::size_t i = 0; i < kLobes; ++i) {
    const std::size_t k = side_index(i);
    const double g = p_.lobe[i].leak_L_per_s_per_cmH2O;
    // The hole is fed from small airways, halfway between carina and alveoli;
    // a lobe that is nearly empty gives less and less.
    const double recoil = f.alveolar_cmH2O[i] - f.pleural_cmH2O[k];
    const double source =
        0.5 * (f.pleural_cmH2O[k] + (recoil > 0.0 ? recoil : 0.0) + f.carina_cmH2O);
    double q = g > 0.0 ? g * (source - f.pleural_cmH2O[k]) : 0.0;
    if (q > 0.0) {
      // Pressure stretches a tear.
      const double wide = (source - f.pleural_cmH2O[k]) / kTornWider_cmH2O;
      q *= 1.0 + (wide < 1.4 ? wide * wide : 2.0);
      const double left = (s.volume_L[i] / p_.lobe[i].min_L - 0.15) / 0.3;
      q *= left < 0.0 ? 0.0 : left < 1.0 ? left : 1.0;
      // Behind a shut airway nothing feeds the hole: a lobe under suction gives nothing away.
      const double fed = (recoil + kHeldBack_cmH2O) / (0.8 * kHeldBack_cmH2O);
      q *= fed < 0.0 ? 0.0 : fed < 1.0 ? fed : 1.0;
    }
    if (q < 0.0) {
      // A lung that has fallen together folds over its own hole.
      const double open = s.volume_L[i] / (0.8 * p_.lobe[i].frc_L);
      q *= s.pleural_gas_L[k] > 0.0 ? (1.0 - p_.side[k].valve) * (open < 1.0 ? open * open : 1.0)
                                    : 0.0;
    }
    f.leak_L_per_s[i] = q;
  }
  for (std::size_t k = 0; k < 2; ++k) {
    double q = -p_.side[k].wound_L_per_s_per_cmH2O * f.pleural_cmH2O[k];
    if (q < 0.0 && s.pleural_gas_L[k] <= 0.0) q = 0.0;
    if (q > 0.0) q *= 1.0 - p_.side[k].sealed;
    f.wound_L_per_s[k] = q;
  }
}

void Mechanics::network(const MechanicsState& s, const Effort& effort,
                        const std::array<double, kLobes>& previous, double half_dt_s,
                        double carina_guess, Flows& f) const noexcept {
  std::array<double, kLobes> g_in{}, g_out{}, inverse_cap{}, damping{};
  for (std::size_t i = 0; i < kLobes; ++i) {
    const LobeParameters& l = p_.lobe[i];
    const double v = s.volume_L[i];
    // Airway conductance is linear in lobe volume.
    double width = 0.3 + 0.7 * v / l.frc_L;
    // Below a good half of resting volume airways begin to close, as in a lung that air or fluid
    // presses on.
    const double x = l.closing_L > 0.0 ? v / l.closing_L : 1.0;
    if (x < 1.0) {
      const double open = x > 0.0 ? x * x * (3.0 - 2.0 * x) : 0.0;
      width *= open * open;
    }
    if (width < kLeastConductance) width = kLeastConductance;
    g_in[i] = width / l.inspiratory_r_cmH2O_s_per_L;
    g_out[i] = width / l.expiratory_r_cmH2O_s_per_L;
    const double cap = l.emptying_rate_per_s * (soft_positive(v - l.rv_L, 0.02 * l.frc_L) +
                                                kTrickle * soft_positive(v, 1e-4));
    inverse_cap[i] = 1.0 / cap;
    damping[i] = half_dt_s > 0.0 ? recoil_slope_cmH2O_per_L(i, v) * half_dt_s : 0.0;
  }
  double carina = carina_guess;
  double residual = 0.0, low = -kMostPressure_cmH2O, high = kMostPressure_cmH2O;
  for (int iteration = 0; iteration < kMostIterations; ++iteration) {
    double sum = 0.0, slope = 0.0;
    for (std::size_t i = 0; i < kLobes; ++i) {
      const double drive = carina - f.alveolar_cmH2O[i];
      double q, dq;
      if (drive >= 0.0) {
        q = g_in[i] * drive;
        dq = g_in[i];
        f.limitation[i] = 0.0;
      } else {
        // Free flow bends into the cap as a fourth-power mean.
        const double free = g_out[i] * drive;
        const double x = free * inverse_cap[i];
        const double x4 = x * x * x * x;
        const double inverse_root = 1.0 / det::sqrt(det::sqrt(1.0 + x4));
        q = free * inverse_root;
        dq = g_out[i] * inverse_root / (1.0 + x4);
        f.limitation[i] = x4 / (1.0 + x4);
      }
      const double soften = 1.0 / (1.0 + dq * damping[i]);
      f.lobe_L_per_s[i] = (q + dq * damping[i] * previous[i]) * soften;
      sum += f.lobe_L_per_s[i];
      slope += dq * soften;
    }
    if (effort.is_flow_set) {
      residual = effort.set_flow_L_per_s - sum;
    } else {
      const FlowAndSlope upper = upper_flow(p_.upper, effort.opening_cmH2O - carina);
      residual = upper.flow - sum;
      slope += upper.slope;
    }
    if (absolute(residual) < kFlowTolerance_L_per_s) break;
    // Newton, kept between bounds that close in: flow limitation and a shut glottis leave almost no
    // slope to go by.
    (residual > 0.0 ? low : high) = carina;
    const double next = carina + residual / slope;
    carina = next > low && next < high ? next : 0.5 * (low + high);
  }
  f.carina_cmH2O = carina;
  f.trachea_L_per_s = 0.0;
  for (double q : f.lobe_L_per_s) f.trachea_L_per_s += q;
  f.mouth_cmH2O = effort.opening_cmH2O;
  if (effort.is_flow_set) {
    const double q = f.trachea_L_per_s;
    const auto& u = p_.upper;
    f.mouth_cmH2O =
        carina + q * u.linear_cmH2O_s_per_L +
        q * absolute(q) * (u.orifice_cmH2O_s2_per_L2 + u.trachea_orifice_cmH2O_s2_per_L2);
  }
}

Flows Mechanics::derivative(const MechanicsState& state, const Effort& effort) const noexcept {
  Flows f;
  pleura(state, effort.muscle_cmH2O, f);
  network(state, effort, {}, 0.0, f_.carina_cmH2O, f);
  leaks(state, f);
  return f;
}

void Mechanics::step(const Effort& effort, double dt) noexcept {
  const double half = 0.5 * dt;
  MechanicsState middle = s_;
  for (std::size_t i = 0; i < kLobes; ++i) {
    middle.volume_L[i] += half * (f_.lobe_L_per_s[i] - f_.leak_L_per_s[i]);
    const std::size_t k = side_index(i);
    middle.pleural_gas_L[k] += half * f_.leak_L_per_s[i];
  }
  for (std::size_t k = 0; k < 2; ++k) middle.pleural_gas_L[k] += half * f_.wound_L_per_s[k];
  const std::array<double, kLobes> previous = f_.lobe_L_per_s;
  pleura(middle, effort.muscle_cmH2O, f_);
  network(middle, effort, previous, half, f_.carina_cmH2O, f_);
  leaks(middle, f_);
  bound_outflow(dt);
  std::array<double, 2> gas = s_.pleural_gas_L;
  for (std::size_t i = 0; i < kLobes; ++i) {
    s_.volume_L[i] += dt * (f_.lobe_L_per_s[i] - f_.leak_L_per_s[i]);
    gas[side_index(i)] += dt * f_.leak_L_per_s[i];
  }
  for (std::size_t k = 0; k < 2; ++k) {
    gas[k] += dt * f_.wound_L_per_s[k];
    s_.pleural_gas_L[k] = gas[k] > 0.0 ? gas[k] : 0.0;
  }
}

// No more gas leaves a pleural space in one step than it holds.
void Mechanics::bound_outflow(double dt) noexcept {
  for (std::size_t k = 0; k < 2; ++k) {
    double in = 0.0, out = 0.0;
    (f_.wound_L_per_s[k] > 0.0 ? in : out) += dt * absolute(f_.wound_L_per_s[k]);
    for (std::size_t i = 0; i < kLobes; ++i) {
      if (side_index(i) != k) continue;
      (f_.leak_L_per_s[i] > 0.0 ? in : out) += dt * absolute(f_.leak_L_per_s[i]);
    }
    const double held = s_.pleural_gas_L[k] + in;
    if (out <= held) continue;
    const double share = held / out;
    if (f_.wound_L_per_s[k] < 0.0) f_.wound_L_per_s[k] *= share;
    for (std::size_t i = 0; i < kLobes; ++i) {
      if (side_index(i) == k && f_.leak_L_per_s[i] < 0.0) f_.leak_L_per_s[i] *= share;
    }
  }
}

void Mechanics::settle() noexcept {
  for (std::size_t i = 0; i < kLobes; ++i) s_.volume_L[i] = p_.lobe[i].frc_L;
  s_.pleural_gas_L = {};
  f_ = Flows{};
  for (int n = 0; n < 400; ++n) step(Effort{}, 0.04);
}

}  // namespace phren::patient
