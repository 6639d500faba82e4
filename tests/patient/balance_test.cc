// An hour's balance of gas: what the lungs, pleural spaces, blood and tissue hold at the end is
// what they held before, plus what came in, less what left. The ventilated volume is summed here
// from the flows of every step and the uptake from the blood's own stores, so that the lung's
// bookkeeping is judged by numbers it did not make.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ostream>
#include <vector>

#include "people.h"

namespace phren::patient {
namespace {

constexpr double kMost = 1e-6;  // of what passed in the hour

struct Step {
  double minute;
  const char* treatment;
  bool is_stop = false;
};
struct Hour {
  const char* name;
  std::vector<ConditionUse> conditions;
  std::vector<Step> steps;
  Person person = {};
};

const Hour kHours[] = {
    {"healthy", {}, {}},
    {"healthy on CPAP", {}, {{1.0, "cpap"}}},
    {"asthma, bag and mask", {{.id = "asthma", .severity = 0.8}}, {{1.0, "assisted_ventilation"}}},
    {"COPD on CPAP", {{.id = "copd_exacerbation", .severity = 0.6}}, {{1.0, "cpap"}}},
    {"leaking lung", {{.id = "pneumothorax", .severity = 0.8}}, {}},
    {"leaking lung on CPAP", {{.id = "pneumothorax", .severity = 0.8}}, {{1.0, "cpap"}}},
    {"leaking lung, bag and mask",
     {{.id = "pneumothorax", .severity = 0.5}},
     {{1.0, "assisted_ventilation"}, {5.0, "assisted_ventilation", true}}},
    {"one-way leak, needle, seal",
     {{.id = "tension_pneumothorax", .severity = 0.9}},
     {{2.0, "needle_decompression"},
      {3.0, "needle_decompression"},
      {4.0, "oxygen"},
      {20.0, "chest_seal"},
      {30.0, "assisted_ventilation"}}},
    {"wet lung on CPAP", {{.id = "cardiogenic_oedema", .severity = 0.8}}, {{1.0, "cpap"}}},
    {"healthy chest pierced, CPAP", {}, {{1.0, "needle_decompression"}, {20.0, "cpap"}}},
    {"croup on oxygen",
     {{.id = "croup", .severity = 0.8}},
     {{1.0, "oxygen"}},
     {2.0, Sex::kMale, 87.0, 12.5}},
};

double lung_and_pleura_L(const Patient& p) {
  const auto& gas = p.mechanics().state().pleural_gas_L;
  return p.mechanics().gas_L() + gas[0] + gas[1];
}
Gas blood_and_tissue_mL(const Patient& p) {
  const GasState& s = p.gas().state();
  const double arterial_L = gas_parameters_of(p.person(), p.reference()).arterial_blood_L;
  const double venous_L = gas_parameters_of(p.person(), p.reference()).venous_store_L;
  return {s.arterial.o2 * arterial_L + s.venous_o2 * venous_L,
          s.arterial.co2 * arterial_L + s.fast_co2_mL + s.slow_co2_mL};
}

struct Balance {
  double volume = 0.0, oxygen = 0.0, co2 = 0.0;  // what is missing, as a share of what passed
  double passed_L = 0.0, pleural_L = 0.0, wound_L = 0.0;
  double least_share = 0.0, most_share = 0.0;  // of O2 and CO2 in any store of gas
};

// Oxygen and carbon dioxide are parts of the gas that holds them: no store may owe gas, or hold
// more of them than gas in all.
void look_at_shares(const Patient& p, Balance& b) {
  const auto look = [&b](const Gas& g, double volume_L) {
    if (volume_L < 1e-4) return;
    b.least_share = std::min({b.least_share, g.o2 / volume_L, g.co2 / volume_L});
    b.most_share = std::max(b.most_share, (g.o2 + g.co2) / volume_L);
  };
  const GasState& s = p.gas().state();
  const MechanicsState& lung = p.mechanics().state();
  for (std::size_t i = 0; i < kLobes; ++i) {
    look({s.alveolus[i].o2 + s.dead[i].o2, s.alveolus[i].co2 + s.dead[i].co2}, lung.volume_L[i]);
  }
  for (std::size_t k = 0; k < 2; ++k) look(s.pleura[k], lung.pleural_gas_L[k]);
}

Balance run(const Hour& hour) {
  Patient p = *Patient::make(config_of(hour.person, hour.conditions, 5.0), Seed{7});
  const GasLedger before = p.gas().ledger();
  const double o2 = p.gas().total_oxygen_mL(), co2 = p.gas().total_co2_mL();
  const double volume = lung_and_pleura_L(p);
  const Gas stores = blood_and_tissue_mL(p);
  Balance out;
  double net_in_L = 0.0;
  std::size_t next = 0;
  const double end = p.time_s() + 3600.0, dt = p.step_s();
  while (p.time_s() < end) {
    for (; next < hour.steps.size() && hour.steps[next].minute * 60.0 <= p.time_s(); ++next) {
      const Step& s = hour.steps[next];
      p.act({s.is_stop ? ActionKind::kStop : ActionKind::kTreat,
             *treatments().index_of(s.treatment), exam::Side::kRight});
    }
    p.step();
    const Flows& f = p.mechanics().flows();
    net_in_L += dt * (f.trachea_L_per_s + f.wound_L_per_s[0] + f.wound_L_per_s[1]);
    out.passed_L += dt * std::abs(f.trachea_L_per_s) / 2.0;
    for (double w : f.wound_L_per_s) out.wound_L += dt * std::abs(w);
    for (double g : p.mechanics().state().pleural_gas_L) out.pleural_L = std::max(out.pleural_L, g);
    look_at_shares(p, out);
  }
  const GasLedger after = p.gas().ledger();
  const double used = after.oxygen_used_mL - before.oxygen_used_mL;
  const double made = after.co2_made_mL - before.co2_made_mL;
  const Gas kept = blood_and_tissue_mL(p);
  // Volume that the blood took out of the lung: oxygen taken up less carbon dioxide given off.
  const double uptake_mL = (kept.o2 - stores.o2 + used) - (made - (kept.co2 - stores.co2));
  const double uptake_L = uptake_mL / (kStpd_mL_per_L_per_mmHg * kDryPressure_mmHg);
  out.volume = (lung_and_pleura_L(p) - volume - net_in_L + uptake_L) / out.passed_L;
  const double o2_in = after.breathed_in.o2 - before.breathed_in.o2;
  out.oxygen = (p.gas().total_oxygen_mL() - o2 - o2_in +
                (after.breathed_out.o2 - before.breathed_out.o2) + used) /
               o2_in;
  out.co2 = (p.gas().total_co2_mL() - co2 - (after.breathed_in.co2 - before.breathed_in.co2) +
             (after.breathed_out.co2 - before.breathed_out.co2) - made) /
            made;
  return out;
}

std::ostream& operator<<(std::ostream& out, const Hour& hour) {
  return out << hour.name;
}

class GasBalance : public ::testing::TestWithParam<Hour> {};

TEST_P(GasBalance, HoldsOverAnHour) {
  const Balance b = run(GetParam());
  std::printf(
      "    %-28s %6.0f L breathed, pleura up to %.3f L, wound %.1f L; missing: volume %.1e, "
      "O2 %.1e, CO2 %.1e; shares %.3f to %.3f\n",
      GetParam().name, b.passed_L, b.pleural_L, b.wound_L, b.volume, b.oxygen, b.co2, b.least_share,
      b.most_share);
  EXPECT_LT(std::abs(b.volume), kMost);
  EXPECT_LT(std::abs(b.oxygen), kMost);
  EXPECT_LT(std::abs(b.co2), kMost);
  EXPECT_GE(b.least_share, 0.0);
  EXPECT_LE(b.most_share, 1.0);
}

INSTANTIATE_TEST_SUITE_P(Hours, GasBalance, ::testing::ValuesIn(kHours));

}  // namespace
}  // namespace phren::patient
