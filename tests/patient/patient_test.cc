// The whole body: healthy values, determinism, action, blood, what the data hold.
#include "patient/patient.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

#include "patient/findings.h"
#include "people.h"

namespace phren::patient {
namespace {

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
    EXPECT_NEAR(p.inside().paco2_mmHg, p.reference().paco2_mmHg, 4.0);
    EXPECT_GT(p.monitor().spo2_percent, 93.0);
    EXPECT_GE(p.monitor().respiratory_rate_per_min, row.rr_low);
    EXPECT_LE(p.monitor().respiratory_rate_per_min, row.rr_high);
    EXPECT_EQ(p.signs().speech,
              row.person.age_years < 1.5 ? Speech::kTooYoung : Speech::kSentences);
    EXPECT_GT(p.monitor().systolic_mmHg, hypotension_limit_mmHg(row.person.age_years));
    // V (derangedphysiology.com ch. 414): PaCO2 - EtCO2 2-5 mmHg in health; ours is a little less.
    EXPECT_GE(p.inside().paco2_mmHg - p.monitor().etco2_mmHg, -0.5);
    EXPECT_LE(p.inside().paco2_mmHg - p.monitor().etco2_mmHg, 6.0);
  }
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

// A tube in the gullet: who breathed oxygen before it keeps his saturation for minutes.
TEST(Patient, WhatWasGivenBeforeStandsAtTheBeginning) {
  PatientSetup setup;
  setup.person = {54.0, Sex::kMale, 179.0, 96.0};
  setup.posture = Posture::kLying;
  setup.minutes_before = 4.0;
  setup.conditions = {{.id = "oesophageal_tube", .severity = 0.75}};
  Patient bare = *Patient::make(*configure(setup, conditions(), treatments()), Seed{3});
  setup.treatments = {{.id = "assisted_ventilation", .minutes_before = 0.3},
                      {.id = "oxygen", .minutes_before = 4.0}};
  const auto config = configure(setup, conditions(), treatments());
  ASSERT_TRUE(config) << config.error().message;
  ASSERT_EQ(config->begun.size(), 2u);
  EXPECT_EQ(config->begun[0].at_s, -240.0);  // in the order in which they were given
  const auto back = unpack(pack(*config));
  ASSERT_TRUE(back) << back.error().message;
  Patient given = *Patient::make(*config, Seed{3}), unpacked = *Patient::make(*back, Seed{3});
  for (const char* id : {"oxygen", "assisted_ventilation"}) {
    EXPECT_TRUE(given.is_treatment_on(*treatments().index_of(id))) << id;
  }
  for (Patient* p : {&bare, &given, &unpacked}) p->advance_to(60.0);
  EXPECT_EQ(given.inside().pao2_mmHg, unpacked.inside().pao2_mmHg);
  EXPECT_LT(bare.monitor().spo2_percent, 90.0);
  EXPECT_GT(given.monitor().spo2_percent, 94.0);
  given.act({ActionKind::kStop, *treatments().index_of("assisted_ventilation")});
  given.advance_to(240.0);  // its effect wears off over a minute or so
  EXPECT_FALSE(given.is_treatment_on(*treatments().index_of("assisted_ventilation")));

  setup.treatments[1].minutes_before = 5.0;
  const auto late = configure(setup, conditions(), treatments());
  ASSERT_FALSE(late);
  EXPECT_NE(late.error().message.find("minutes_before"), std::string::npos);
  std::vector<double> wrong = pack(*config);
  wrong[wrong.size() - 3] = 99.0;  // no such treatment
  EXPECT_FALSE(unpack(wrong));
}

// One of the two illnesses is not there until it is brought in; what an event does stays.
TEST(Steering, BringsInWorsensAndHeals) {
  const PatientConfig c =
      config_of({70.0, Sex::kMale, 172.0, 80.0},
                {{.id = "lobar_pneumonia", .severity = 0.4, .is_steady = true},
                 {.id = "pneumothorax", .severity = 0.0, .side = exam::Side::kLeft}},
                5.0);
  Patient p = *Patient::make(c, Seed{5}), without = p;
  ASSERT_EQ(p.condition_count(), 2);
  p.advance_to(60.0);
  EXPECT_EQ(p.mechanics().state().pleural_gas_L[1], 0.0);
  EXPECT_FALSE(p.signs().has(Fact::kSuddenOnset));
  EXPECT_TRUE(p.steer(1, 0.8, 120.0));
  p.advance_to(120.0);
  EXPECT_NEAR(p.severity(1), 0.4, 0.01);
  p.advance_to(600.0);
  EXPECT_EQ(p.severity(1), 0.8);
  EXPECT_GT(p.mechanics().state().pleural_gas_L[1], 0.1) << "on the side that was configured";
  EXPECT_EQ(p.mechanics().state().pleural_gas_L[0], 0.0);
  EXPECT_TRUE(p.signs().has(Fact::kSuddenOnset));
  EXPECT_TRUE(p.act(Action::steer(0, 0.0, 0.0)));
  p.advance_to(602.0);
  EXPECT_EQ(p.load().at_lobe(Mechanism::kConsolidation, 2), 0.0);
  for (const Action& wrong : {Action::steer(2, 0.5, 1.0), Action::steer(-1, 0.5, 1.0),
                              Action::steer(0, 1.5, 1.0), Action::steer(0, 0.5, -1.0)}) {
    EXPECT_FALSE(p.act(wrong));
  }
  without.advance_to(602.0);
  EXPECT_EQ(without.mechanics().state().pleural_gas_L[1], 0.0);
}

TEST(Steering, EventsBefall) {
  const PatientConfig c =
      config_of({}, {{.id = "pneumothorax", .severity = 0.6, .is_steady = true}}, 5.0);
  Patient p = *Patient::make(c, Seed{5}), shut = p;
  EXPECT_TRUE(shut.happen(Event::kOneWayLeak, exam::Side::kRight));
  for (Patient* q : {&p, &shut}) q->advance_to(1500.0);
  EXPECT_GT(shut.mechanics().state().pleural_gas_L[0], p.mechanics().state().pleural_gas_L[0]);
  Patient torn = sick("healthy", 0.0), tired = torn, sickened = torn;
  EXPECT_TRUE(torn.happen(Event::kTornLung, exam::Side::kLeft, 0.5));
  torn.advance_to(300.0);
  EXPECT_GT(torn.mechanics().state().pleural_gas_L[1], 0.1);
  EXPECT_TRUE(tired.happen(Event::kTire, exam::Side::kMidline, 0.8));
  EXPECT_LT(tired.breathing().most_effort_cmH2O(), 0.6 * torn.breathing().most_effort_cmH2O());
  EXPECT_TRUE(sickened.happen(Event::kVomit, exam::Side::kMidline, 1.0));
  sickened.advance_to(5.0);
  EXPECT_GT(sickened.load().of_body(Mechanism::kUpperSecretions), 0.5);
  EXPECT_TRUE(sickened.happen(Event::kCough));
  bool coughed = false;
  for (int n = 0; n < 128 * 10; ++n) {
    sickened.step();
    coughed = coughed || sickened.breathing().manoeuvre() == Manoeuvre::kCough;
  }
  EXPECT_TRUE(coughed);
  EXPECT_FALSE(p.happen(Event::kTire, exam::Side::kMidline, 1.5));
  EXPECT_FALSE(p.act({ActionKind::kHappen, kNumEvents}));
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
  EXPECT_EQ(conditions().all().size(), 38u);
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

TEST(Findings, ABabyIsNotAskedWhereItHurts) {
  const auto knows_pain = [](const Person& person) {
    const Patient p = sick("pneumothorax", 0.8, person);
    for (const exam::Finding& f : findings_of(p.signs(), p.monitor(), p.person())) {
      if (f.id == "pleuritic_chest_pain") return true;
    }
    return false;
  };
  EXPECT_FALSE(knows_pain({0.05, Sex::kFemale, 52.0, 3.8}));
  EXPECT_TRUE(knows_pain({30.0, Sex::kFemale, 165.0, 62.0}));
}

}  // namespace
}  // namespace phren::patient
