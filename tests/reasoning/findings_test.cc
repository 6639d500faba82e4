#include "reasoning/findings.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "reasoning/make.h"

namespace phren::reasoning {
namespace {

using exam::Presence;

Presence settled(const std::string& id, const exam::VitalSigns& vitals, double age_years) {
  for (const auto& f : findings_from_vitals(vitals, age_years, the_knowledge().findings)) {
    if (f.id == id) return f.presence;
  }
  return Presence::kUnknown;
}

TEST(Vitals, NotTakenSettlesNothing) {
  EXPECT_TRUE(findings_from_vitals({}, 40, the_knowledge().findings).empty());
}

TEST(Vitals, EveryAgeHasExactlyOneLimitForPulseBreathingAndPressure) {
  exam::VitalSigns v;
  v.heart_rate_per_min = 100;
  v.respiratory_rate_per_min = 20;
  v.systolic_mmHg = 100;
  for (double age = 0.0; age < 110.0; age += 0.05) {
    for (const auto id :
         {"tachycardia", "bradycardia", "tachypnoea", "bradypnoea", "hypotension"}) {
      EXPECT_NE(settled(id, v, age), Presence::kUnknown) << id << " at " << age;
      int covering = 0;
      for (const Threshold& t :
           the_knowledge().findings[*the_knowledge().findings.index_of(id)].thresholds) {
        covering += age >= t.age_from_years && age < t.age_to_years ? 1 : 0;
      }
      EXPECT_EQ(covering, 1) << id << " at " << age;
    }
  }
}

TEST(Vitals, LimitsAreExactAtTheirEdges) {
  exam::VitalSigns v;
  v.spo2_percent = 94;
  EXPECT_EQ(settled("hypoxia", v, 40), Presence::kAbsent);
  v.spo2_percent = 93.9;
  EXPECT_EQ(settled("hypoxia", v, 40), Presence::kPresent);
  v.temperature_C = 38.0;
  EXPECT_EQ(settled("fever", v, 40), Presence::kPresent);
  v.heart_rate_per_min = 100;
  EXPECT_EQ(settled("tachycardia", v, 40), Presence::kAbsent);
  EXPECT_EQ(settled("tachycardia", v, 0.5), Presence::kAbsent);
  EXPECT_EQ(settled("bradycardia", v, 0.5), Presence::kPresent);
}

TEST(FindingTable, GroupsFormAndImplicationsPointToFindings) {
  const FindingTable& t = the_knowledge().findings;
  EXPECT_GE(t.all().size(), 90u);
  for (const FindingInfo& info : t.all()) {
    EXPECT_EQ(info.group_indices.size(), info.groups.size());
  }
}

TEST(FindingTable, FaultsNameFileLineFindingAndField) {
  const auto message = [](const char* text) {
    return FindingTable::parse(text, "f.toml").error().message;
  };
  const std::string head = "[[finding]]\nid = 'a'\nlabel = 'a'\nmeaning = 'm'\n";
  EXPECT_EQ(message((head + "found_by = 'smelled'\n").c_str()).substr(0, 33),
            "f.toml:5: finding a: basis is 'sm");
  EXPECT_EQ(message((head + "found_by = 'seen'\n").c_str()), "f.toml:1: finding a: needs groups");
  const std::string good = head + "found_by = 'seen'\ngroups = ['g']\n";
  EXPECT_EQ(message((good + good).c_str()), "f.toml:7: finding a: id 'a' is used twice");
  EXPECT_EQ(message((good + "implied_by = ['b']\n").c_str()),
            "f.toml: finding a names 'b', which is not a finding");
  EXPECT_EQ(
      message((good + "[[finding.threshold]]\nvital = 'mood'\nbelow = 3\n").c_str()),
      "f.toml:7: finding a: [[threshold]] vital is 'mood'; it must be a field of vital_signs");
}

TEST(FindingTable, UnknownFindingIsNamedWithTheNearest) {
  EXPECT_EQ(the_knowledge().findings.find("weeze").error().message,
            "finding 'weeze' is not in findings.toml. Did you mean 'wheeze'?");
}

}  // namespace
}  // namespace phren::reasoning
