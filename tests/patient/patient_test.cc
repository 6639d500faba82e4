// The whole body: healthy values, emergence, determinism, action, mass balance.
#include "patient/patient.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

#include "base/files.h"
#include "patient/conditions.h"
#include "patient/findings.h"

namespace phren::patient {
namespace {

const Conditions& conditions() {
  static const Conditions all = *Conditions::load(data_directory() / "conditions");
  return all;
}
const Treatments& treatments() {
  static const Treatments all = *Treatments::load(data_directory() / "treatments");
  return all;
}

PatientConfig config_of(const Person& person, const std::vector<ConditionUse>& uses,
                        double before = 15.0) {
  return *configure({person, uses, before, Posture::kSitting}, conditions(), treatments());
}
Patient sick(const std::string& id, double severity, Person person = {}, double before = 15.0) {
  return *Patient::make(config_of(person, {{.id = id, .severity = severity}}, before), Seed{7});
}
Action treat(const char* id, exam::Side side = exam::Side::kRight) {
  return {ActionKind::kTreat, *treatments().index_of(id), side};
}

TEST(Patient, HealthyPeopleOfAllAgesAreNormal) {
  struct {
    Person person;
    double rr_low, rr_high;
  } people[] = {{{0.02, Sex::kMale, 50.0, 3.5}, 35.0, 55.0},
                {{1.0, Sex::kFemale, 75.0, 9.5}, 27.0, 42.0},
                {{6.0, Sex::kMale, 116.0, 21.0}, 18.0, 26.0},
                {{30.0, Sex::kFemale, 165.0, 62.0}, 11.0, 18.0},
                {{40.0, Sex::kMale, 178.0, 120.0}, 11.0, 24.0},
                {{85.0, Sex::kFemale, 156.0, 55.0}, 11.0, 22.0}};
  for (const auto& row : people) {
    SCOPED_TRACE(row.person.age_years);
    const Patient p = sick("healthy", 1.0, row.person);
    EXPECT_NEAR(p.inside().paco2_mmHg, 40.0, 4.0);
    EXPECT_GT(p.monitor().spo2_percent, 93.0);
    EXPECT_GE(p.monitor().respiratory_rate_per_min, row.rr_low);
    EXPECT_LE(p.monitor().respiratory_rate_per_min, row.rr_high);
    EXPECT_EQ(p.signs().speech, Speech::kSentences);
    EXPECT_GT(p.monitor().systolic_mmHg, hypotension_limit_mmHg(row.person.age_years));
    // V (derangedphysiology.com ch. 414): PaCO2 - EtCO2 2-5 mmHg in health; ours is a little less.
    EXPECT_GE(p.inside().paco2_mmHg - p.monitor().etco2_mmHg, -0.5);
    EXPECT_LE(p.inside().paco2_mmHg - p.monitor().etco2_mmHg, 6.0);
  }
}

TEST(Patient, ConstrictionBringsTrappingThenFatigueAndCo2) {
  std::vector<Inside> steps;
  std::vector<double> slopes;
  for (double severity : {0.25, 0.5, 0.75, 1.0}) {
    const Patient p = sick("asthma", severity);
    steps.push_back(p.inside());
    slopes.push_back(p.monitor().plateau_slope_mmHg_per_s);
  }
  for (std::size_t i = 1; i < steps.size(); ++i) {
    EXPECT_GT(steps[i].intrinsic_peep_cmH2O, steps[i - 1].intrinsic_peep_cmH2O);
    EXPECT_GT(steps[i].end_expiratory_L, steps[i - 1].end_expiratory_L);
  }
  EXPECT_LT(steps[1].paco2_mmHg, 37.0);  // early: blown off
  EXPECT_GT(steps[3].paco2_mmHg, 45.0);  // late: retained
  EXPECT_GT(steps[3].fatigue, 0.3);
  EXPECT_GT(slopes[2], 3.0 * slopes[0]);  // the slanting plateau is nobody's drawing
}

TEST(Patient, WheezeHasSomethingToSingWith) {
  Patient p = sick("asthma", 0.75);
  double most_limited = 0.0, ratio = 0.0;
  const double until = p.time_s() + 20.0;
  while (p.time_s() < until) {
    p.step();
    for (const LobeState& l : p.snapshot().lobe) {
      if (l.flow_limitation > most_limited) {
        most_limited = l.flow_limitation;
        ratio = l.choke_speed_m_per_s / (1e-3 * l.choke_half_gap_mm);
      }
    }
  }
  EXPECT_GT(most_limited, 0.2);
  EXPECT_GT(ratio, 1000.0);  // 1/s; the published pitch law holds from 2600
  EXPECT_LT(ratio, 23500.0);
}

TEST(Patient, DecompressionRestoresOutputAtOnceAndGasesLater) {
  Patient p = sick("tension_pneumothorax", 0.9);
  p.act(treat("assisted_ventilation"));
  p.advance_to(900.0);
  const double low = p.inside().cardiac_output_L_per_min, oxygen = p.inside().shunt;
  // The needle may miss the pleura; a second one is put in then.
  for (int attempt = 0; attempt < 5; ++attempt) {
    p.act(treat("needle_decompression"));
    p.advance_to(p.time_s() + 60.0);
    if (p.load().at_side(Mechanism::kChestWound_L_per_s_per_cmH2O, 0) > 0.0) break;
  }
  EXPECT_GT(p.inside().cardiac_output_L_per_min, 1.2 * low);
  EXPECT_GT(p.inside().shunt, 0.3 * oxygen);
}

TEST(Patient, VentilationTurnsASimplePneumothoraxTense) {
  Patient alone = sick("pneumothorax", 0.6), bagged = alone;
  bagged.act(treat("assisted_ventilation"));
  alone.advance_to(600.0);
  bagged.advance_to(600.0);
  const auto mean_pressure = [](Patient q) {
    double sum = 0.0;
    for (int n = 0; n < 128 * 12; ++n) {
      q.step();
      sum += q.snapshot().pleura[0].pressure_cmH2O / (128.0 * 12.0);
    }
    return sum;
  };
  EXPECT_GT(mean_pressure(bagged), mean_pressure(alone) + 1.0);
  EXPECT_LT(bagged.inside().cardiac_output_L_per_min, alone.inside().cardiac_output_L_per_min);
}

TEST(Patient, CpapHelpsFloodedLungsAndCostsVenousReturn) {
  Patient without = sick("cardiogenic_oedema", 0.7, {70.0, Sex::kMale, 172.0, 80.0}),
          with = without;
  with.act(treat("cpap"));
  without.advance_to(900.0);
  with.advance_to(900.0);
  EXPECT_GT(with.inside().sao2, without.inside().sao2 + 0.02);
  Patient dry = sick("haemothorax", 0.6), pressed = dry;
  pressed.act(treat("cpap"));
  dry.advance_to(300.0);
  pressed.advance_to(300.0);
  EXPECT_LT(pressed.inside().cardiac_output_L_per_min, dry.inside().cardiac_output_L_per_min);
}

TEST(Patient, StridorousNarrowingWorsensWithEffort) {
  Patient p = sick("croup", 0.7, {2.0, Sex::kMale, 87.0, 12.5});
  const auto least_area = [](Patient q) {
    double area = 1e9;
    const double until = q.time_s() + 12.0;
    while (q.time_s() < until) {
      q.step();
      const double a = q.snapshot().upper_airway.area_mm2;
      if (a < area) area = a;
    }
    return area;
  };
  const double quiet = least_area(p);
  p.act({ActionKind::kBreatheDeeply, 0, exam::Side::kMidline, 30.0});
  p.advance_to(p.time_s() + 4.0);
  EXPECT_LT(least_area(p), 0.97 * quiet);
}

TEST(Patient, SameCaseSeedAndActionsGiveTheSameBits) {
  const PatientConfig c = config_of({}, {{.id = "asthma", .severity = 0.7}});
  Patient a = *Patient::make(c, Seed{3}), b = *Patient::make(c, Seed{3});
  for (Patient* p : {&a, &b}) {
    p->act(treat("inhaled_bronchodilator"));
    p->advance_to(120.0);
  }
  const Inside x = a.inside(), y = b.inside();
  EXPECT_EQ(0, std::memcmp(&x, &y, sizeof x));
}

TEST(Patient, ChunksOfTimeDoNotMatter) {
  Patient a = sick("healthy", 0.0), b = a;
  a.advance_to(10.0);
  for (int n = 1; n <= 1000; ++n) b.advance_to(n * 0.01);
  EXPECT_EQ(a.inside().paco2_mmHg, b.inside().paco2_mmHg);
  EXPECT_EQ(a.time_s(), b.time_s());
}

TEST(Patient, PackedConfigurationGivesTheSamePatient) {
  const PatientConfig c = config_of(
      {60.0, Sex::kMale, 172.0, 78.0},
      {{.id = "lobar_pneumonia", .severity = 0.6}, {.id = "copd_exacerbation", .severity = 0.3}});
  const auto back = unpack(pack(c));
  ASSERT_TRUE(back) << back.error().message;
  Patient a = *Patient::make(c, Seed{3}), b = *Patient::make(*back, Seed{3});
  a.advance_to(30.0);
  b.advance_to(30.0);
  EXPECT_EQ(a.inside().pao2_mmHg, b.inside().pao2_mmHg);
  std::vector<double> wrong = pack(c);
  wrong.pop_back();
  EXPECT_FALSE(unpack(wrong));
  wrong = pack(c);
  wrong[0] = 99.0;
  ASSERT_FALSE(unpack(wrong));
  EXPECT_NE(unpack(wrong).error().message.find("format"), std::string::npos);
}

TEST(Patient, BloodIsConserved) {
  Patient p = sick("anaphylaxis", 0.8);
  const double before = p.circulation().blood_L();
  p.advance_to(600.0);
  EXPECT_NEAR(p.circulation().blood_L(), before, 1e-9);
}

TEST(Patient, RejectsWhatItCannotBe) {
  PatientConfig c;
  c.person.age_years = 130.0;
  ASSERT_FALSE(Patient::make(c, Seed{1}));
  EXPECT_NE(Patient::make(c, Seed{1}).error().message.find("age_years is 130"), std::string::npos);
  PatientSetup setup;
  setup.conditions = {{.id = "asthmma", .severity = 0.5}};
  const auto unknown = configure(setup, conditions(), treatments());
  ASSERT_FALSE(unknown);
  EXPECT_NE(unknown.error().message.find("Did you mean 'asthma'?"), std::string::npos);
  setup.conditions = {{.id = "asthma", .severity = 1.5}};
  const auto high = configure(setup, conditions(), treatments());
  ASSERT_FALSE(high);
  EXPECT_NE(high.error().message.find("between 0 and 1"), std::string::npos);
  setup.conditions = {{.id = "croup", .severity = 0.5}};
  EXPECT_FALSE(configure(setup, conditions(), treatments())) << "croup in a grown-up";
}

TEST(Conditions, NameFileLineFieldAndRange) {
  const auto bad = Conditions::parse(
      "id='x'\nname='x'\nsummary='x'\nmechanism='x'\nheard='x'\nseen='x'\nmonitor='x'\n"
      "[[effects]]\nmechanism='bronchospasm'\nby_severity=[0,0,0,0,2]\nsource='x'\nstatus='"
      "engineering'\n",
      "x.toml");
  ASSERT_FALSE(bad);
  EXPECT_NE(bad.error().message.find("x.toml:10"), std::string::npos) << bad.error().message;
  EXPECT_NE(bad.error().message.find("between 0 and 1"), std::string::npos);
  const auto typo = Conditions::parse(
      "id='x'\nname='x'\nsummry='x'\nmechanism='x'\nheard='x'\nseen='x'\nmonitor='x'\n", "x.toml");
  ASSERT_FALSE(typo);
  EXPECT_NE(typo.error().message.find("summary"), std::string::npos);
}

TEST(Conditions, AllAreThereWithSourcesAndNoTreatmentNamesADose) {
  EXPECT_EQ(conditions().all().size(), 22u);
  for (const Condition& c : conditions().all()) {
    SCOPED_TRACE(c.id);
    for (const DataEffect& e : c.effects) EXPECT_FALSE(e.source.text.empty());
  }
  for (const Treatment& t : treatments().all()) {
    SCOPED_TRACE(t.id);
    EXPECT_NE(t.protocol.find("medical direction"), std::string::npos);
    for (const char* unit : {" mg", " mcg", " mL", "L/min", "microgram", "milligram"}) {
      EXPECT_EQ((t.summary + t.expect + t.caution + t.protocol).find(unit), std::string::npos)
          << unit;
    }
  }
}

TEST(Findings, FollowTheBody) {
  const auto has = [](const Patient& p, const char* id) {
    for (const exam::Finding& f : findings_of(p.signs(), p.monitor(), p.person())) {
      if (f.id == id) return f.presence;
    }
    return exam::Presence::kUnknown;
  };
  const Patient well = sick("healthy", 0.0);
  EXPECT_EQ(has(well, "accessory_muscle_use"), exam::Presence::kAbsent);
  EXPECT_EQ(has(well, "history_asthma"), exam::Presence::kAbsent);
  const Patient ill = sick("asthma", 0.8);
  EXPECT_EQ(has(ill, "accessory_muscle_use"), exam::Presence::kPresent);
  EXPECT_EQ(has(ill, "history_asthma"), exam::Presence::kPresent);
  EXPECT_EQ(has(ill, "obstructive_capnogram"), exam::Presence::kPresent);
  const Patient shut = sick("pneumothorax", 0.8);
  EXPECT_EQ(has(shut, "hyperresonant_percussion"), exam::Presence::kPresent);
  EXPECT_EQ(has(shut, "asymmetric_chest_rise"), exam::Presence::kPresent)
      << shut.signs().chest_rise[0] << " right, " << shut.signs().chest_rise[1] << " left";
}

}  // namespace
}  // namespace phren::patient
