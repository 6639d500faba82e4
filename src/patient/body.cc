#include "patient/body.h"

#include "base/det_math.h"

namespace phren::patient {
namespace {

using enum Mechanism;

constexpr double kUpperShare = 0.18, kCentralShare = 0.17, kLobarShare = 0.65;

using det::clamp;

double joined(double a, double b) noexcept {
  return 1.0 - (1.0 - a) * (1.0 - b);
}

// Radius of the lobe's airways as a share of healthy.
double radius_of(const Load& load, std::size_t i, double water) noexcept {
  return (1.0 - 0.58 * load.at_lobe(kBronchospasm, i)) *
         (1.0 - 0.40 * load.at_lobe(kMucosalSwelling, i)) * (1.0 - 0.25 * load.at_lobe(kMucus, i)) *
         (1.0 - 0.28 * water);
}

LobeParameters lobe_of(const Reference& r, const Load& load, std::size_t i, double water,
                       double radius, double fluid_L) noexcept {
  const double share = kLobeShare[i];
  const double consolidated = load.at_lobe(kConsolidation, i);
  const double collapsed = load.at_lobe(kCollapse, i);
  const double fibrosis = load.at_lobe(kFibrosis, i);
  const double emphysema = load.at_lobe(kEmphysema, i);
  LobeParameters l;
  // Airless tissue takes its share of every volume; water and scar take some.
  const double room =
      (1.0 - consolidated) * (1.0 - collapsed) * (1.0 - 0.45 * water) * (1.0 - 0.4 * fibrosis);
  l.frc_L = r.frc_L * share * room;
  // Narrow airways close early: gas is trapped below a raised residual volume.
  l.rv_L = r.rv_L * share * room * (1.0 + 0.5 * emphysema) * (1.0 + 0.8 * (1.0 - radius));
  l.tlc_L = r.tlc_L * share * room * (1.0 + 0.25 * emphysema);
  l.closing_L = 0.6 * l.frc_L;
  l.min_L = 0.5 * r.rv_L * share * room;
  const double y = l.frc_L - l.min_L;
  const double air = 1.0 - 0.85 * water;
  const double stiff = (1.0 + 2.2 * fibrosis) / (air * air * air) * (1.0 - 0.6 * emphysema);
  l.recoil_linear_cmH2O_per_L = 0.1 * r.lung_recoil_cmH2O / y * stiff;
  l.recoil_square_cmH2O_per_L2 = 0.9 * r.lung_recoil_cmH2O / (y * y) * stiff;
  l.filled_L = r.frc_L * share * (consolidated + 0.25 * water);
  const double healthy_r = kLobarShare * r.resistance_cmH2O_s_per_L / share;
  const double thinner = 1.0 / (radius * radius);
  const double open = (1.0 - 0.8 * consolidated) * (1.0 - 0.6 * collapsed);
  double in = healthy_r * thinner * thinner / open;
  double out = 1.15 * in;
  double emptying = radius * radius * radius * (1.0 - 0.72 * emphysema) / r.emptying_s;
  const double block =
      joined(load.at_lobe(kBronchusNarrowing, i), load.at_side(kTubeTooDeep, side_index(i)));
  if (block > 0.0) {
    const double left = 1.0 - 0.995 * block;
    const double added = 0.3 * healthy_r * (1.0 / (left * left * left * left) - 1.0);
    const double valve = load.at_lobe(kBallValve, i);
    in += added * (1.0 - 0.7 * valve);
    out += added * (1.0 + 6.0 * valve);
    emptying *= left * left * (1.0 - 0.9 * valve);
  }
  l.inspiratory_r_cmH2O_s_per_L = in < 1e6 ? in : 1e6;
  l.expiratory_r_cmH2O_s_per_L = out < 1e6 ? out : 1e6;
  l.emptying_rate_per_s = emptying > 0.01 ? emptying : 0.01;
  // Fluid gathers below: it weighs on the lower lobes first.
  const double depth = i == 2 || i == 4 ? 1.0 : i == 1 ? 0.3 : -0.3;
  l.pleural_offset_cmH2O = depth * 4.0 * fluid_L / (r.frc_L / 3.0);
  return l;
}

// Blood falls to the lower side, by a fifth or so (our choice).
double gravity_of(Posture posture, std::size_t side) noexcept {
  if (posture == Posture::kRightSide) return side == 0 ? 1.38 : 0.55;
  if (posture == Posture::kLeftSide) return side == 1 ? 1.5 : 0.55;
  return 1.0;
}

UpperAirwayParameters upper_of(const Reference& r, const Load& load, double area_mm2) noexcept {
  UpperAirwayParameters u;
  const double narrow = r.glottis_area_mm2 / (area_mm2 > 0.3 ? area_mm2 : 0.3);
  u.linear_cmH2O_s_per_L =
      r.resistance_cmH2O_s_per_L * (kUpperShare * (narrow < 30.0 ? narrow : 30.0) + kCentralShare);
  u.orifice_cmH2O_s2_per_L2 = orifice_cmH2O_s2_per_L2(area_mm2);
  // Swollen, soft walls are drawn in more easily.
  u.collapse_cmH2O = r.upper_collapse_cmH2O * (1.0 - 0.6 * load.of_body(kUpperSwelling)) *
                     (1.0 - 0.7 * load.of_body(kSupraglotticSwelling));
  const double trachea = load.of_body(kTracheaNarrowing);
  if (trachea > 0.0) {
    u.trachea_orifice_cmH2O_s2_per_L2 =
        orifice_cmH2O_s2_per_L2(1.4 * r.glottis_area_mm2 * (1.0 - trachea));
  }
  return u;
}

}  // namespace

Body body_of(const Person& person, const Reference& r, Posture posture, const Load& load,
             const std::array<double, kLobes>& water) noexcept {
  Body b;
  const double size = r.frc_L / 3.0;  // leaks and fluids in data are an adult's
  MechanicsParameters& m = b.mechanics;
  m.frc_L = r.frc_L;
  m.tlc_L = r.tlc_L;
  m.rv_L = r.rv_L;
  std::array<double, 2> fluid{};
  for (std::size_t k = 0; k < 2; ++k) fluid[k] = size * load.at_side(kPleuralFluid_L, k);
  for (std::size_t i = 0; i < kLobes; ++i) {
    const std::size_t k = side_index(i);
    const double w = joined(water[i], load.at_lobe(kLungWater, i));
    const double radius = radius_of(load, i, w);
    m.lobe[i] = lobe_of(r, load, i, w, radius, fluid[k]);
    const double side_share = k == 0 ? 0.533 : 0.467;
    m.lobe[i].leak_L_per_s_per_cmH2O =
        load.at_side(kLungLeak_L_per_s_per_cmH2O, k) * size * kLobeShare[i] / side_share;
    LobeShape& shape = b.shape[i];
    shape.radius_ratio = radius;
    const double height = person.height_cm / 170.0;
    shape.choke_half_gap_mm = 1.9 * height * radius;
    shape.choke_width_mm = 7.5 * height * (0.5 + 0.5 * radius);
    b.lung_water_mean += w * kLobeShare[i];
  }
  for (std::size_t k = 0; k < 2; ++k) {
    const double share = k == 0 ? 0.533 : 0.467;
    SideParameters& s = m.side[k];
    s.share = share;
    s.wall_compliance_L_per_cmH2O = r.chest_wall_compliance_L_per_cmH2O * share;
    s.wall_rest_L = share * (r.frc_L + r.lung_recoil_cmH2O * r.chest_wall_compliance_L_per_cmH2O);
    s.wall_floor_L = share * r.rv_L;
    s.wall_ceiling_L = share * r.tlc_L + 0.4 * fluid[k];
    // Fluid collects slowly enough for the wall to give way to part of it.
    s.wall_rest_L += 0.4 * fluid[k];
    s.fluid_L = fluid[k];
    s.wound_L_per_s_per_cmH2O = size * load.at_side(kChestWound_L_per_s_per_cmH2O, k);
    s.valve = load.at_side(kLeakValve, k);
    s.flail = load.at_side(kFlail, k);
    s.sealed = load.at_side(kSealed, k);
  }
  // Scales with the wall, but a small child's soft wall does not make its middle softer as well.
  const double by_wall = 0.35 * r.chest_wall_compliance_L_per_cmH2O, by_size = 0.0225 * r.frc_L;
  m.mediastinum_L_per_cmH2O = by_wall < by_size ? by_wall : by_size;
  const double lying = person.age_years > 2.0 ? 4.5 : 0.8;
  m.wall_load_cmH2O = r.wall_load_cmH2O * (is_flat(posture) ? 1.6 : 1.0) +
                      (is_flat(posture)                ? lying
                       : posture == Posture::kReclined ? 0.4 * lying
                                                       : 0.0);
  // A swollen epiglottis falls back when its owner lies, a child's more (size our choice).
  const double above = load.of_body(kSupraglotticSwelling);
  const double falls = !is_flat(posture) ? 0.0 : person.age_years < 12.0 ? 0.40 : 0.28;
  b.upper_narrowing =
      joined(joined(joined(load.of_body(kUpperSwelling), load.of_body(kUpperForeignBody)),
                    load.of_body(kSlackThroat)),
             joined(0.35 * load.of_body(kHistamine), joined(above, falls * above)));
  b.upper_narrowing = clamp(b.upper_narrowing, 0.0, 0.9995);
  b.upper_area_mm2 = r.glottis_area_mm2 * (1.0 - b.upper_narrowing);
  m.upper = upper_of(r, load, b.upper_area_mm2);
  return b;
}

LungBlood lung_blood_of(const Reference& r, Posture posture, const Load& load,
                        const std::array<double, kLobes>& water, const Mechanics& mechanics,
                        const GasExchange& gas) noexcept {
  LungBlood b;
  double sum = 0.0, healthy = 0.0;
  const MechanicsParameters& m = mechanics.parameters();
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double w = joined(water[i], load.at_lobe(kLungWater, i));
    const double volume = mechanics.state().volume_L[i];
    // Blood favours the bases; vessels of a squeezed lobe narrow, and hypoxia narrows them.
    const double basal = (i == 2 || i == 4 ? 1.12 : 0.9) * gravity_of(posture, side_index(i));
    const double open = clamp(volume / (0.55 * r.frc_L * kLobeShare[i] + 1e-9), 0.25, 1.0);
    const double po2 = gas.alveolar_po2_mmHg(i);
    const double hypoxic = clamp((90.0 - po2) / 60.0, 0.0, 1.0);
    const double airless = joined(load.at_lobe(kConsolidation, i), load.at_lobe(kCollapse, i));
    b.share[i] = kLobeShare[i] * basal * (0.55 + 0.45 * open) * (1.0 - 0.42 * hypoxic) *
                 (1.0 - 0.35 * airless) * (1.0 - load.at_lobe(kPerfusionBlock, i));
    sum += b.share[i];
    healthy += kLobeShare[i] * basal;
    double shunt = joined(r.shunt, load.at_lobe(kShunt, i));
    shunt = joined(shunt, 0.68 * airless);
    // Wet alveoli fall shut, more of them when the lung is small under a lying body.
    shunt = joined(shunt, (is_flat(posture) ? 0.80 : 0.48) * w + 0.25 * w * w);
    // A lobe squeezed well below its resting volume is partly airless.
    const double squeezed = clamp(1.0 - volume / (0.65 * m.lobe[i].frc_L + 1e-9), 0.0, 1.0);
    shunt = joined(shunt, 0.86 * squeezed);
    b.shunt[i] = clamp(shunt, 0.0, 0.97);
    const double narrow = 1.0 - radius_of(load, i, w);
    double low = joined(r.low_vq, load.at_lobe(kLowVq, i));
    low = joined(low, clamp(0.7 * narrow, 0.0, 0.6));
    low = joined(low, 0.4 * w);
    low = joined(low, 0.35 * load.at_lobe(kMucus, i));
    b.low_vq[i] = clamp(low, 0.0, 1.0 - b.shunt[i]);
    // Blocked arteries leave gas without blood (part of it is ventilated less), and so does a lung
    // with lost capillaries or one stretched tight.
    const double stretched = clamp(volume / (r.frc_L * kLobeShare[i]) - 1.35, 0.0, 1.0);
    // Oxygen frees the vessels of badly aired parts, and the blood that goes there is missing where
    // the air is (Aubier 1980, from memory; size our choice).
    const double freed = clamp((po2 - 110.0) / 150.0, 0.0, 1.0);
    const double emphysema = load.at_lobe(kEmphysema, i);
    b.unperfused[i] =
        joined(joined(0.03 + 0.6 * load.at_lobe(kPerfusionBlock, i),
                      clamp((0.72 + 2.0 * freed * emphysema * emphysema) * emphysema, 0.0, 0.95)),
               joined(0.25 * stretched, 0.8 * w));
    b.diffusion[i] = 1.0 - 0.45 * load.at_lobe(kFibrosis, i) - 0.12 * load.at_lobe(kEmphysema, i);
  }
  b.conductance = sum / healthy;
  for (double& s : b.share) s = sum > 0.0 ? s / sum : 0.2;
  return b;
}

GasParameters gas_parameters_of(const Person& person, const Reference& r) noexcept {
  GasParameters g;
  g.common_dead_space_L = 0.65 * r.dead_space_L;
  for (std::size_t i = 0; i < kLobes; ++i) {
    g.lobar_dead_space_L[i] = 0.35 * r.dead_space_L * kLobeShare[i];
  }
  g.haemoglobin_g_per_dL = r.haemoglobin_g_per_dL;
  g.oxygen_use_mL_per_s = r.oxygen_use_mL_per_min / 60.0;
  g.exchange_ratio = r.exchange_ratio;
  g.half_saturation_ratio = r.half_saturation_ratio;
  const double excess =
      person.weight_kg > r.ideal_weight_kg ? person.weight_kg - r.ideal_weight_kg : 0.0;
  const double w = person.weight_kg - 0.75 * excess;
  g.arterial_blood_L = 0.0023 * w;  // heart and arteries up to the sampling site
  g.venous_store_L = 0.055 * w;
  g.fast_co2_mL_per_mmHg = 0.44 * w;
  g.slow_co2_mL_per_mmHg = 1.1 * w;
  g.slow_co2_exchange_mL_per_s_per_mmHg = 0.0025 * w;
  g.blood_for_acid_L = 0.4 * w;
  return g;
}

CirculationParameters circulation_parameters_of(const Person& person, const Reference& r) noexcept {
  CirculationParameters c;
  const double excess =
      person.weight_kg > r.ideal_weight_kg ? person.weight_kg - r.ideal_weight_kg : 0.0;
  c.weight_kg = person.weight_kg - 0.6 * excess;
  c.resting_rate_per_min = r.heart_rate_per_min;
  c.resting_output_L_per_s = r.cardiac_output_L_per_min / 60.0;
  c.systolic_mmHg = r.systolic_mmHg;
  c.diastolic_mmHg = r.diastolic_mmHg;
  c.blood_L = r.blood_L_per_kg * c.weight_kg;
  c.greatest_rate_per_min =
      person.age_years < 3.0 ? 215.0 : 208.0 - 0.7 * person.age_years;  // Tanaka 2001 from 3 years
  c.sinus_arrhythmia_per_min = r.sinus_arrhythmia_per_min;
  c.apnoea_slowing = person.age_years < 1.0 ? 0.75 : person.age_years < 10.0 ? 0.5 : 0.3;
  return c;
}

}  // namespace phren::patient
