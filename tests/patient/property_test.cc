// Ten thousand random patients, conditions and treatments: nothing impossible, nothing not a
// number.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "base/files.h"
#include "base/random.h"
#include "patient/conditions.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

Person random_person(RandomStream& r, double low, double high) {
  Person p;
  p.age_years = r.uniform(low, high);
  p.sex = r.chance(0.5) ? Sex::kMale : Sex::kFemale;
  const double a = p.age_years;
  const double height = a < 18.0 ? 50.0 + 115.0 * std::pow(a / 18.0, 0.6) : 168.0;
  p.height_cm = height * r.uniform(0.92, 1.1);
  const double bmi = a < 12.0 ? r.uniform(13.0, 20.0) : r.uniform(17.0, 42.0);
  p.weight_kg = bmi * p.height_cm * p.height_cm / 10000.0;
  p.muscle = r.uniform();
  return p;
}

void expect_sane(const Patient& p) {
  const Inside x = p.inside();
  const Monitor m = p.monitor();
  const Snapshot s = p.snapshot();
  const auto in = [](const char* what, double v, double low, double high) {
    EXPECT_TRUE(v >= low && v <= high) << what << " is " << v;
  };
  in("PaO2", x.pao2_mmHg, 0.0, 720.0);
  in("PaCO2", x.paco2_mmHg, 0.5, 300.0);
  in("pH", x.ph, 5.5, 8.2);
  in("SaO2", x.sao2, 0.0, 1.0);
  in("output", x.cardiac_output_L_per_min, 0.0, 30.0);
  in("systolic", m.systolic_mmHg, 0.0, 330.0);
  in("heart rate", m.heart_rate_per_min, 0.0, 260.0);
  in("respiratory rate", m.respiratory_rate_per_min, 0.0, 150.0);
  in("EtCO2", m.etco2_mmHg, 0.0, 250.0);
  in("lung", s.total_volume_L, 0.0, 2.0 * p.reference().tlc_L);
  for (const LobeState& l : s.lobe) {
    in("lobe flow", l.flow_L_per_s, -15.0, 15.0);
    in("lobe", l.volume_L, -1e-6, 5.0);
    in("alveolar pressure", l.alveolar_pressure_cmH2O, -250.0, 250.0);
  }
  // Oxygen and CO2 are parts of the gas that holds them.
  const GasState& gas = p.gas().state();
  for (std::size_t i = 0; i < kLobes; ++i) {
    const double held = gas.alveolus[i].o2 + gas.dead[i].o2 + gas.alveolus[i].co2 + gas.dead[i].co2;
    in("oxygen and CO2 of a lobe", held, 0.0, s.lobe[i].volume_L + 1e-6);
  }
  for (std::size_t k = 0; k < 2; ++k) {
    in("oxygen and CO2 of the pleural space", gas.pleura[k].o2 + gas.pleura[k].co2, 0.0,
       s.pleura[k].gas_L + 1e-6);
  }
  in("jet", s.upper_airway.jet_speed_m_per_s, 0.0, 400.0);
}

void run(std::uint64_t seed, int count) {
  const Conditions conditions = *Conditions::load(data_directory() / "conditions");
  const Treatments treatments = *Treatments::load(data_directory() / "treatments");
  RandomStream r(Seed{seed}, "random patients");
  std::printf("    seed %llu, %d patients\n", static_cast<unsigned long long>(seed), count);
  for (int n = 0; n < count; ++n) {
    PatientSetup setup;
    double low = 0.0, high = 100.0;
    const int illnesses = 1 + static_cast<int>(r.below(2));
    for (int k = 0; k < illnesses; ++k) {
      const auto& c =
          conditions.all()[r.below(static_cast<std::uint32_t>(conditions.all().size()))];
      const double least = c.least_age_years > low ? c.least_age_years : low;
      const double most = c.most_age_years < high ? c.most_age_years : high;
      if (least >= most) continue;
      low = least;
      high = most;
      setup.conditions.push_back({.id = c.id,
                                  .severity = r.uniform(),
                                  .side = r.chance(0.5) ? exam::Side::kRight : exam::Side::kLeft});
    }
    setup.person = random_person(r, low, high);
    setup.minutes_before = 0.1;
    setup.posture = static_cast<Posture>(r.below(3));
    const auto config = configure(setup, conditions, treatments);
    ASSERT_TRUE(config) << config.error().message;
    Patient p = *Patient::make(*config, Seed{r.bits()});
    std::string told = "patient " + std::to_string(n) + ", " +
                       std::to_string(setup.person.age_years) + " y, " +
                       std::to_string(setup.person.height_cm) + " cm, " +
                       std::to_string(setup.person.weight_kg) + " kg";
    for (const ConditionUse& u : setup.conditions)
      told += ", " + u.id + " " + std::to_string(u.severity);
    for (int k = 0; k < 3; ++k) {
      Action a;
      a.kind = static_cast<ActionKind>(r.below(4));
      a.index = static_cast<int>(r.below(
          a.kind == ActionKind::kSetPosture ? 3
          : a.kind == ActionKind::kAsk      ? 7
                                            : static_cast<std::uint32_t>(treatments.all().size())));
      a.side = r.chance(0.5) ? exam::Side::kRight : exam::Side::kLeft;
      a.seconds = r.uniform(1.0, 20.0);
      p.act(a);
      p.advance_to(p.time_s() + r.uniform(1.0, 6.0));
      told += ", action " + std::to_string(static_cast<int>(a.kind)) + " " +
              std::to_string(a.index) + " to " + std::to_string(p.time_s());
      SCOPED_TRACE(told);
      expect_sane(p);
      if (::testing::Test::HasFailure()) return;
    }
  }
}

TEST(RandomPatients, FiveHundredStaySane) {
  run(20261125, 500);
}
TEST(RandomPatientsSlow, TenThousandStaySane) {
  run(90210, 10000);
}

}  // namespace
}  // namespace phren::patient
