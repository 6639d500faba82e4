// Physiology against the literature. Rows are numbered as in docs/validation/patient.md. V: the
// number was seen at its source; M: from memory; D: worked out from a published formula.
#include "patient/patient.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "base/files.h"
#include "patient/conditions.h"

namespace phren::patient {
namespace {

using enum Mechanism;

void show(const char* what, double ours, double published) {
  std::printf("    %-58s ours %8.3f   published %8.3f\n", what, ours, published);
}

// ---- rows 1-10: gas in blood (Severinghaus 1979, J Appl Physiol 46:599, V; values D) ----

TEST(PublishedPatient, Row1To4OxygenCurve) {
  EXPECT_NEAR(100.0 * saturation(27.0), 50.35, 0.1);
  EXPECT_NEAR(100.0 * saturation(40.0), 74.95, 0.1);
  EXPECT_NEAR(100.0 * saturation(60.0), 90.58, 0.1);
  EXPECT_NEAR(100.0 * saturation(100.0), 97.75, 0.1);
}

TEST(PublishedPatient, Row5InverseCurve) {  // Ellis 1989 (M), checked exact
  EXPECT_NEAR(po2_of_saturation(0.5), 26.86, 0.05);
  EXPECT_NEAR(po2_of_saturation(0.9), 58.66, 0.05);
}

TEST(PublishedPatient, Row6And7BohrShift) {
  EXPECT_NEAR(100.0 * saturation(60.0, 7.20), 84.0, 0.5);
  EXPECT_NEAR(dlnp_dph(26.6), -1.200, 0.001);
}

TEST(PublishedPatient, Row8AlveolarGasEquation) {  // textbook; short form V (mdicu.com)
  EXPECT_NEAR(alveolar_po2(0.21, 40.0, 0.8), 101.8, 0.1);
  EXPECT_NEAR(alveolar_po2_short(0.21, 40.0, 0.8), 99.7, 0.1);
}

TEST(PublishedPatient, Row9And10HyperbolaAndContent) {  // V (ozemedicine), textbook
  EXPECT_NEAR(paco2_of(200.0, 4.315), 40.0, 0.1);
  EXPECT_NEAR(paco2_of(200.0, 4.315 / 2.0), 80.0, 0.1);
  EXPECT_NEAR(oxygen_content(100.0, 7.4, 15.0) / 10.0, 19.95, 0.05);
}

// ---- rows 12-15: one compartment, run by the model ----

// Five lobes that act as one: linear recoil, constant resistance, nothing else in the way.
Mechanics one_compartment(double resistance, double compliance) {
  MechanicsParameters p;
  constexpr double kShare[5] = {0.176, 0.085, 0.272, 0.224, 0.243};
  for (std::size_t i = 0; i < 5; ++i) {
    LobeParameters& l = p.lobe[i];
    l.min_L = 0.5 * kShare[i];
    l.rv_L = 0.0;
    l.frc_L = 1e9;  // conductance does not follow volume
    l.tlc_L = 1e6;
    l.recoil_linear_cmH2O_per_L = 1.0 / (compliance * kShare[i]);
    l.recoil_square_cmH2O_per_L2 = 0.0;
    l.inspiratory_r_cmH2O_s_per_L = l.expiratory_r_cmH2O_s_per_L = 0.3 * resistance / kShare[i];
    l.emptying_rate_per_s = 1e6;
  }
  for (auto& side : p.side) {
    side.wall_compliance_L_per_cmH2O = 1e9;
    side.wall_rest_L = 0.0;
    side.wall_floor_L = -1.0;
  }
  p.upper = {1e-3, 1e-6, 1e9, 0.0, 0.0};
  p.mediastinum_L_per_cmH2O = 0.0;
  Mechanics lung(p);
  for (std::size_t i = 0; i < 5; ++i) lung.state().volume_L[i] = 0.5 * kShare[i];
  return lung;
}

struct Ventilated {
  double plateau, trapped_L;
};
Ventilated ventilate(Mechanics lung, double vt, double ti, double pause, double te) {
  const double dt = 1.0 / 1024.0;
  Ventilated out{};
  for (int breath = 0; breath < 60; ++breath) {
    out.trapped_L = lung.gas_L() - 0.5;
    for (double t = 0.0; t < ti - 0.5 * dt; t += dt) lung.step({0, 0, true, vt / ti}, dt);
    for (double t = 0.0; t < pause - 0.5 * dt; t += dt) lung.step({0, 0, true, 0.0}, dt);
    out.plateau = (lung.gas_L() - 0.5) / 1.0;
    for (double t = 0.0; t < te - 0.5 * dt; t += dt) lung.step({0, 0, false, 0}, dt);
  }
  return out;
}

TEST(PublishedPatient, Row12And13PlateauWithIntrinsicPeep) {  // ccforum cc12561 table 1, V
  const Ventilated a = ventilate(one_compartment(21.0, 0.095), 0.65, 1.3, 0.3, 2.4);
  show("12 plateau, R 21, C 0.095 (cmH2O)", a.plateau / 0.095, 9.78);
  EXPECT_NEAR(a.plateau / 0.095, 9.78, 0.05);
  EXPECT_NEAR(a.trapped_L / 0.095, 2.94, 0.05);
  const Ventilated b = ventilate(one_compartment(5.0, 0.05), 0.65, 1.3, 0.3, 2.4);
  show("13 plateau, R 5, C 0.05 (cmH2O)", b.plateau / 0.05, 13.0);
  EXPECT_NEAR(b.plateau / 0.05, 13.0, 0.05);
}

TEST(PublishedPatient, Row14ExponentialEmptying) {  // D
  const double tau = 20.0 * 0.05;
  for (const auto& [k, left] : {std::pair{1, 36.8}, std::pair{3, 5.0}, std::pair{5, 0.7}}) {
    Mechanics lung = one_compartment(20.0, 0.05);
    for (double& v : lung.state().volume_L) v *= 2.0;
    for (int n = 0; n < k * 1024; ++n) lung.step({0, 0, false, 0}, tau / 1024.0);
    EXPECT_NEAR(100.0 * (lung.gas_L() - 0.5) / 0.5, left, 0.1) << k << " tau";
  }
}

TEST(PublishedPatient, Row15TrappedVolume) {  // D: geometric series
  const double fast = 1000.0 * ventilate(one_compartment(30.0, 0.06), 0.5, 1.0, 0.0, 1.3).trapped_L;
  const double slow = 1000.0 * ventilate(one_compartment(30.0, 0.06), 0.5, 1.0, 0.0, 4.0).trapped_L;
  show("15 trapped volume, TE 1.3 s (mL)", fast, 472.0);
  show("15 trapped volume, TE 4.0 s (mL)", slow, 61.0);
  EXPECT_NEAR(fast, 472.0, 2.0);
  EXPECT_NEAR(slow, 61.0, 2.0);
}

// ---- rows 16-20, 30: people ----

TEST(PublishedPatient, Row16InfantFrc) {  // ERS collated 168 mL at 70 cm, V
  EXPECT_NEAR(1000.0 * frc_infant_L(70.0), 168.0, 0.05 * 168.0);
}

TEST(PublishedPatient, Row17DeadSpace) {  // Numa & Newth 1996 JAP 80:1485, V
  EXPECT_NEAR(dead_space_mL_per_kg(1.0), 2.89, 0.02);
  EXPECT_NEAR(dead_space_mL_per_kg(10.0), 1.94, 0.02);
}

TEST(PublishedPatient, Row18InterrupterResistance) {  // Merkus 2002 ERJ 20:907, V
  EXPECT_NEAR(interrupter_resistance_kPa_s_per_L(100.0), 0.948, 0.005);
  EXPECT_NEAR(interrupter_resistance_kPa_s_per_L(150.0), 0.440, 0.005);
}

TEST(PublishedPatient, Row19ChestWallCompliance) {  // Papastamelos 1995 JAP 78:179, V
  for (double age : {0.1, 0.5, 0.9}) {
    EXPECT_NEAR(chest_wall_compliance_mL_per_cmH2O_per_kg(age), 2.80, 0.87);
  }
  for (double age : {1.2, 2.0, 3.0}) {
    EXPECT_NEAR(chest_wall_compliance_mL_per_cmH2O_per_kg(age), 2.04, 0.51);
  }
}

TEST(PublishedPatient, Row20LobeShares) {  // PMC7490509 table 3, V
  constexpr double kMean[5] = {17.6, 8.5, 27.2, 22.4, 24.3}, kSd[5] = {2.3, 1.4, 2.2, 2.0, 2.4};
  Patient p = *Patient::make(PatientConfig{}, Seed{1});
  const Snapshot s = p.snapshot();
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_NEAR(100.0 * s.lobe[i].volume_L / s.total_volume_L, kMean[i], kSd[i]);
  }
}

TEST(PublishedPatient, Row30HypotensionLimits) {  // V (scribd 306601795; tomwademd.net)
  EXPECT_EQ(hypotension_limit_mmHg(0.02), 60.0);
  EXPECT_EQ(hypotension_limit_mmHg(0.5), 70.0);
  EXPECT_EQ(hypotension_limit_mmHg(5.0), 80.0);
  EXPECT_EQ(hypotension_limit_mmHg(12.0), 90.0);
}

// ---- rows 11, 21-29: runs of the whole model ----

Person adult(double weight_kg = 75.0) {
  Person p;
  p.age_years = 40.0;
  p.sex = Sex::kMale;
  p.height_cm = 175.0;
  p.weight_kg = weight_kg;
  return p;
}

TreatmentCourse held(Mechanism mechanism, double size) {
  TreatmentEffect e;
  e.mechanism = mechanism;
  e.size = size;
  e.is_held = true;
  e.rise_s = e.fade_s = 1.0;
  return {{e}};
}

ActiveCondition constant(Mechanism mechanism, double value) {
  ActiveCondition c;
  ConditionEffect e;
  e.mechanism = mechanism;
  e.curve.at.fill(value);
  c.effects.push_back(e);
  return c;
}

TEST(PublishedPatient, Row11ShuntOnOxygen) {  // D: Severinghaus, Hb 15, a-v 5 mL/dL, PaCO2 40
  // Blood and gas of an adult; ventilation is steered so that PaCO2 is 40.
  const Person person = *complete(adult());
  const Reference r = reference_of(person);
  GasParameters g = gas_parameters_of(person, r);
  g.haemoglobin_g_per_dL = 15.0;
  Mechanics lung(body_of(person, r, Posture::kSitting, Load{}, {}).mechanics);
  lung.settle();
  GasExchange gas(g);
  const double output = g.oxygen_use_mL_per_s / 50.0;
  gas.fill(lung.state(), 40.0, 600.0, output);
  LungBlood blood;
  for (std::size_t i = 0; i < kLobes; ++i) {
    blood.share[i] = kLobeShare[i];
    blood.shunt[i] = 0.30;
    blood.diffusion[i] = 1.0;
  }
  double effort = 7.0;
  const double dt = 1.0 / 128.0;
  for (int n = 0; n < 128 * 1800; ++n) {
    const double phase = (n % 512) / 512.0;
    lung.step({phase < 0.4 ? effort * std::sin(M_PI * phase / 0.4) : 0.0, 0, false, 0}, dt);
    gas.transport(lung.flows(), {1.0, 0.0}, dt);
    if (n % 8 == 7) {
      const auto lost = gas.exchange(lung.state(), blood, output, 1.0 / 16.0);
      for (std::size_t i = 0; i < kLobes; ++i) lung.state().volume_L[i] -= lost[i];
      gas.set_lung_gas(lung.state());
      effort *= 1.0 + 1e-5 * (gas.paco2_mmHg() - 40.0);
    }
  }
  show("11 PaO2 at 30 % shunt on pure oxygen (mmHg)", gas.pao2_mmHg(), 102.0);
  EXPECT_NEAR(gas.paco2_mmHg(), 40.0, 1.5);
  EXPECT_NEAR(gas.pao2_mmHg(), 102.0, 3.0);
}

TEST(PublishedPatient, Row21ApnoeaCarbonDioxide) {  // Stock 1988 J Clin Anesth 1:96, V
  PatientConfig c;
  c.person = adult();
  c.posture = Posture::kLying;
  c.treatments = {held(kOxygenFraction, 1.0)};
  Patient p = *Patient::make(c, Seed{1});
  p.act({ActionKind::kTreat, 0});
  p.advance_to(300.0);
  double before = 0.0;  // mean of the last 20 s
  for (int n = 0; n < 20; ++n) {
    p.advance_to(p.time_s() + 1.0);
    before += p.inside().paco2_mmHg / 20.0;
  }
  while (p.snapshot().phase != exam::Phase::kInspiration) p.step();
  while (p.snapshot().phase == exam::Phase::kInspiration) p.step();
  while (p.snapshot().phase == exam::Phase::kExpiration) p.step();
  const double start = p.time_s();  // end of a breath
  p.hold_effort(true);
  p.advance_to(start + 10.0);
  const double at10 = p.inside().paco2_mmHg - before;
  p.advance_to(start + 20.0);
  const double at20 = p.inside().paco2_mmHg - before;
  p.advance_to(start + 80.0);
  const double per_min = p.inside().paco2_mmHg - before - at20;
  show("21 apnoea, PaCO2 rise at 10 s (mmHg)", at10, 7.0);
  show("21 apnoea, PaCO2 rise at 20 s (mmHg)", at20, 9.0);
  show("21 apnoea, then per minute (mmHg)", per_min, 6.0);
  EXPECT_NEAR(at10, 7.0, 2.0);
  EXPECT_NEAR(at20, 9.0, 2.0);
  EXPECT_NEAR(per_min, 6.0, 1.0);
}

TEST(PublishedPatient, Row22HalfTimesAfterAVentilationStep) {  // Farhi & Rahn 1955, V (dog)
  PatientConfig c;
  c.person = adult();
  c.posture = Posture::kReclined;
  c.treatments = {held(kAssistedVolume, 1.0), held(kAssistedVolume, 1.2)};
  Patient p = *Patient::make(c, Seed{1});
  p.hold_effort(true);
  p.act({ActionKind::kTreat, 0});
  p.advance_to(3600.0);
  // CO2 by the store that blood reaches quickly, O2 by arterial blood.
  const double co2_before = p.gas().state().fast_co2_mL, o2_before = p.inside().pao2_mmHg;
  p.act({ActionKind::kTreat, 1});
  Patient later = p;
  later.advance_to(3600.0 + 150.0);
  const double o2_half = 0.5 * (o2_before + later.inside().pao2_mmHg);
  later.advance_to(3600.0 + 1200.0);
  const double co2_half = 0.5 * (co2_before + later.gas().state().fast_co2_mL);
  double co2_s = -1.0, o2_s = -1.0;
  while (p.time_s() < 3600.0 + 1200.0 && (co2_s < 0.0 || o2_s < 0.0)) {
    p.advance_to(p.time_s() + 1.0);
    if (co2_s < 0.0 && p.gas().state().fast_co2_mL < co2_half) co2_s = p.time_s() - 3600.0;
    if (o2_s < 0.0 && p.inside().pao2_mmHg > o2_half) o2_s = p.time_s() - 3600.0;
  }
  show("22 half-time of CO2 (min)", co2_s / 60.0, 4.0);
  show("22 half-time of O2 (min)", o2_s / 60.0, 0.5);
  EXPECT_NEAR(co2_s / 60.0, 4.0, 1.2);
  EXPECT_NEAR(o2_s / 60.0, 0.5, 0.15);
}

TEST(PublishedPatient, Row23OxygenWashIn) {  // Baraka 2003 A&A 97:1533; Pandit 2003, V
  PatientConfig c;
  c.person = adult();
  c.posture = Posture::kReclined;
  c.treatments = {held(kOxygenFraction, 1.0)};
  c.treatments[0].effects[0].rise_s = 0.01;
  Patient p = *Patient::make(c, Seed{1});
  p.act({ActionKind::kTreat, 0});
  double end_tidal = 0.0, at60 = 0.0, at180 = 0.0, tau = 0.0;
  double last_end = 0.145, last_s = 0.0;
  std::uint64_t breath = p.snapshot().breath_count;
  while (p.time_s() < 185.0) {
    p.step();
    const Snapshot now = p.snapshot();
    if (now.phase == exam::Phase::kExpiration) end_tidal = p.gas().mouth_o2_fraction();
    if (now.breath_count == breath) continue;
    breath = now.breath_count;
    if (p.time_s() <= 62.0) at60 = end_tidal;
    if (p.time_s() <= 182.0) at180 = end_tidal;
    const double goal = 0.95 - (0.95 - 0.145) / std::exp(1.0);
    if (tau == 0.0 && end_tidal > goal) {  // between two breaths
      tau = last_s + (p.time_s() - last_s) * (goal - last_end) / (end_tidal - last_end);
    }
    last_end = end_tidal;
    last_s = p.time_s();
  }
  show("23 wash-in time constant (s)", tau, 58.0);
  show("23 end-tidal oxygen at 60 s", at60, 0.71);
  show("23 end-tidal oxygen at 3 min", at180, 0.92);
  EXPECT_NEAR(tau, 58.0, 0.15 * 58.0);
  EXPECT_NEAR(at60, 0.71, 0.07);
  EXPECT_NEAR(at180, 0.92, 0.03);
}

double seconds_to_90(const Person& person) {
  PatientConfig c;
  c.person = person;
  c.posture = Posture::kLying;
  c.treatments = {held(kOxygenFraction, 1.0)};
  Patient p = *Patient::make(c, Seed{1});
  p.act({ActionKind::kTreat, 0});
  p.advance_to(240.0);
  p.act({ActionKind::kStop, 0});
  p.hold_effort(true);
  while (p.monitor().spo2_percent > 90.0 && p.time_s() < 240.0 + 1200.0)
    p.advance_to(p.time_s() + 1.0);
  return p.time_s() - 240.0;
}

TEST(PublishedPatient, Row24ApnoeaToNinetyPerCent) {  // Berthoud 1991; Patel 1994, V
  struct {
    const char* who;
    Person person;
    double published_s;
  } rows[] = {{"24 adult (s)", adult(), 595.0},
              {"24 morbid obesity (s)", adult(140.0), 196.0},
              {"24 0-6 months (s)", {0.25, Sex::kMale, 60.0, 6.0}, 96.0},
              {"24 2-5 years (s)", {3.5, Sex::kMale, 98.0, 15.0}, 160.0},
              {"24 11-18 years (s)", {14.0, Sex::kMale, 163.0, 50.0}, 382.0}};
  for (const auto& row : rows) {
    const double s = seconds_to_90(row.person);
    show(row.who, s, row.published_s);
    EXPECT_NEAR(s, row.published_s, 0.25 * row.published_s) << row.who;
  }
}

const Conditions& conditions() {
  static const Conditions all = *Conditions::load(data_directory() / "conditions");
  return all;
}
const Treatments& treatments() {
  static const Treatments all = *Treatments::load(data_directory() / "treatments");
  return all;
}

Patient tension(double severity) {
  PatientSetup setup;
  setup.person = adult();
  setup.conditions = {{.id = "tension_pneumothorax", .severity = severity}};
  setup.minutes_before = 0.5;
  return *Patient::make(*configure(setup, conditions(), treatments()), Seed{5});
}

TEST(PublishedPatient, Row25OutputFallsWithUnilateralPressure) {  // Carvalho 1996 JAP 81:1664, V
  PatientConfig c;
  c.person = adult();
  c.treatments = {held(kAssistedVolume, 1.0), held(kOxygenFraction, 1.0)};
  Patient p = *Patient::make(c, Seed{1});
  p.hold_effort(true);
  p.act({ActionKind::kTreat, 0});
  p.act({ActionKind::kTreat, 1});
  p.advance_to(300.0);
  const double before = p.inside().cardiac_output_L_per_min;
  // Gas into one side until its mean pressure stands at 25 cmH2O, then two minutes.
  double mean = -5.0;
  const auto breathe = [&](double seconds) {
    const double until = p.time_s() + seconds;
    while (p.time_s() < until) {
      p.step();
      mean += (p.mechanics().flows().pleural_cmH2O[0] - mean) * p.step_s() / 6.0;
    }
  };
  for (int n = 0; n < 900 && mean < 25.0; ++n) {
    p.inject_pleural_gas(exam::Side::kRight, 0.02);
    breathe(2.0);
  }
  ASSERT_GE(mean, 24.5);
  breathe(30.0);
  const double fall = 100.0 * (1.0 - p.inside().cardiac_output_L_per_min / before);
  show("25 output fall at 25 cmH2O on one side (%)", fall, 66.0);
  EXPECT_NEAR(fall, 66.0, 15.0);
}

TEST(PublishedPatient, Row26HeartRateSlopeWithHypoxia) {  // Slutsky & Rebuck 1978, V
  const Person person = *complete(adult());
  Circulation heart(circulation_parameters_of(person, reference_of(person)));
  CirculationDemand d;
  for (int n = 0; n < 16 * 120; ++n) heart.step(d, 1.0 / 16.0);
  const double before = heart.rate_per_min();
  d.saturation = 0.80;
  for (int n = 0; n < 16 * 120; ++n) heart.step(d, 1.0 / 16.0);
  const double slope = (heart.rate_per_min() - before) / 17.0;
  show("26 heart rate per % desaturation, circulation alone (/min)", slope, 0.98);
  EXPECT_GE(slope, 0.62);
  EXPECT_LE(slope, 1.46);
  // The whole body, desaturated by blood that meets no gas.
  const auto desaturated = [](double shunt) {
    PatientConfig c;
    c.person = adult();
    c.before_s = 600.0;
    c.conditions = {constant(kShunt, shunt)};
    const Patient p = *Patient::make(c, Seed{1});
    return std::pair{100.0 * p.inside().sao2, p.monitor().heart_rate_per_min};
  };
  const auto [high_percent, slow] = desaturated(0.0);
  const auto [low_percent, fast] = desaturated(0.45);
  const double whole = (fast - slow) / (high_percent - low_percent);
  show("26 the same in the whole body, PaCO2 left to itself (/min)", whole, 0.98);
  EXPECT_LT(low_percent, 82.0);
  EXPECT_GE(whole, 0.62);
  EXPECT_LE(whole, 1.46);
}

TEST(PublishedPatient, Row27OrderOfSignsInTension) {  // Roberts 2015 Ann Surg 261:1068, V
  Patient unaided = tension(1.0), bagged = tension(1.0);
  bagged.act({ActionKind::kTreat, *treatments().index_of("assisted_ventilation")});
  const double rr = 15.0;
  double first_sign = -1.0, hypotension = -1.0;
  while (unaided.time_s() < 1800.0) {
    unaided.advance_to(unaided.time_s() + 2.0);
    const Monitor m = unaided.monitor();
    if (first_sign < 0.0 && (m.spo2_percent < 94.0 || m.respiratory_rate_per_min > rr * 1.3 ||
                             m.heart_rate_per_min > 100.0)) {
      first_sign = unaided.time_s();
    }
    if (hypotension < 0.0 && m.systolic_mmHg < 90.0) hypotension = unaided.time_s();
  }
  ASSERT_GT(first_sign, 0.0);
  EXPECT_TRUE(hypotension < 0.0 || hypotension > first_sign);
  double bagged_sign = -1.0, bagged_hypotension = -1.0;
  while (bagged.time_s() < 1800.0 && bagged_hypotension < 0.0) {
    bagged.advance_to(bagged.time_s() + 2.0);
    const Monitor m = bagged.monitor();
    if (bagged_sign < 0.0 && (m.spo2_percent < 94.0 || m.heart_rate_per_min > 100.0))
      bagged_sign = bagged.time_s();
    if (m.systolic_mmHg < 90.0) bagged_hypotension = bagged.time_s();
  }
  ASSERT_GT(bagged_hypotension, 0.0) << "ventilated: hypotension within half an hour";
  std::printf(
      "    27 unaided: first sign %.0f s, SBP < 90 at %.0f s (-1: never in 30 min); ventilated: "
      "first sign %.0f s, SBP < 90 at %.0f s\n",
      first_sign, hypotension, bagged_sign, bagged_hypotension);
  EXPECT_LT(bagged_hypotension - (bagged_sign > 0.0 ? bagged_sign : 0.0), 600.0);
  if (hypotension > 0.0) {
    EXPECT_LT(bagged_hypotension, hypotension);
  }
}

Patient constricted(double spasm) {
  PatientConfig c = *configure({adult(), {}, 2.0, Posture::kSitting}, conditions(), treatments());
  c.conditions = {constant(kBronchospasm, spasm)};
  return *Patient::make(c, Seed{2});
}

TEST(PublishedPatient, Row28Bronchodilator) {  // Politiek 1999 ERJ 13:988; Thorax 1992;47:30, V
  const double baseline = constricted(0.0).forced_breath().fev1_L;
  const int drug = *treatments().index_of("inhaled_bronchodilator");
  Patient challenged = constricted(0.36);  // FEV1 fall of at least 30 %
  ASSERT_LT(challenged.forced_breath().fev1_L, 0.72 * baseline);
  challenged.act({ActionKind::kTreat, drug});
  while (challenged.forced_breath().fev1_L < 0.85 * baseline && challenged.time_s() < 3600.0) {
    challenged.advance_to(challenged.time_s() + 5.0);
  }
  show("28 minutes to 85 % of baseline FEV1", challenged.time_s() / 60.0, 6.5);
  EXPECT_NEAR(challenged.time_s() / 60.0, 6.5, 0.4 * 6.5);
  Patient stable = constricted(0.46);
  const double start = stable.forced_breath().fev1_L;
  stable.act({ActionKind::kTreat, drug});
  double best = 0.0, best_s = 0.0;
  while (stable.time_s() < 7200.0) {
    stable.advance_to(stable.time_s() + 60.0);
    const double fev1 = stable.forced_breath().fev1_L;
    if (fev1 > best) {
      best = fev1;
      best_s = stable.time_s();
    }
  }
  show("28 gain of FEV1 at the peak (%)", 100.0 * (best / start - 1.0), 58.0);
  show("28 time of the peak (min)", best_s / 60.0, 57.0);
  EXPECT_NEAR(best_s / 60.0, 57.0, 12.0);
  EXPECT_NEAR(100.0 * (best / start - 1.0), 58.0, 0.4 * 58.0);
}

TEST(PublishedPatient, Row29EpinephrinePeak) {  // Simons 1998 JACI 101:33, V
  PatientConfig c = *configure({adult(), {}, 0.0, Posture::kSitting}, conditions(), treatments());
  Patient p = *Patient::make(c, Seed{1});
  const int drug = *treatments().index_of("intramuscular_epinephrine");
  p.act({ActionKind::kTreat, drug});
  double best = 0.0, best_s = 0.0;
  while (p.time_s() < 2400.0) {
    p.advance_to(p.time_s() + 5.0);
    if (p.course().level(drug, 0) > best) {
      best = p.course().level(drug, 0);
      best_s = p.time_s();
    }
  }
  show("29 peak after the injection (min)", best_s / 60.0, 8.0);
  EXPECT_NEAR(best_s / 60.0, 8.0, 2.0);
}

}  // namespace
}  // namespace phren::patient
