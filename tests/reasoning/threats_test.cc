#include "reasoning/threats.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "reasoning/make.h"

namespace phren::reasoning {
namespace {

using exam::Side;

const Threat* find_threat(const Impression& i, const std::string& id) {
  for (const auto& t : i.threats) {
    if (t.id == id) return &t;
  }
  return nullptr;
}

bool named(const exam::Examination& x, const std::string& id) {
  const auto i = weighed(x);
  const Threat* t = find_threat(i, id);
  return t != nullptr && t->is_named;
}

TEST(Threats, AreNamedWhateverTheProbability) {
  auto x = patient(60, {found("diminished_breath_sounds", Side::kLeft)});
  x.vital_signs.systolic_mmHg = 80;
  const auto i = weighed(x);
  EXPECT_TRUE(find_threat(i, "tension")->is_named);
  EXPECT_LT(ranked(i, "tension_pneumothorax").posterior, 0.5);
  x.findings = {found("diminished_breath_sounds", Side::kLeft),
                found("diminished_breath_sounds", Side::kRight)};
  EXPECT_FALSE(named(x, "tension")) << "both sides quiet is not one side silent";
}

TEST(Threats, EachOfTheClassicPicturesIsNamed) {
  EXPECT_TRUE(named(patient(3, {found("stridor")}), "airway"));
  EXPECT_TRUE(named(patient(20, {found("silent_chest")}), "silent"));
  EXPECT_TRUE(named(patient(20, {found("urticaria"), found("wheeze")}), "anaphylaxis"));
  EXPECT_TRUE(named(patient(20, {found("exhaustion")}), "exhaustion"));
  auto opioid = patient(30);
  opioid.vital_signs.respiratory_rate_per_min = 5;
  EXPECT_TRUE(named(opioid, "hypoventilation"));
  EXPECT_TRUE(named(patient(70, {found("pink_frothy_sputum")}), "oedema"));
  EXPECT_TRUE(
      named(patient(50, {found("sudden_onset"), found("normal_breath_sounds")}), "embolism"));
  EXPECT_TRUE(named(patient(30, {found("chest_trauma"), found("dull_percussion", Side::kLeft)}),
                    "bleeding"));
}

TEST(Threats, NothingFoundNamesNothing) {
  const auto all = weighed(patient(40)).threats;
  for (const auto& t : all) {
    EXPECT_FALSE(t.is_named) << t.id;
  }
}

TEST(Threats, NamedOnesComeFirstByUrgency) {
  auto x = patient(60, {found("stridor"), found("wheeze"), found("urticaria"), found("crackles")});
  x.vital_signs.spo2_percent = 84;
  const auto i = weighed(x);
  for (std::size_t n = 1; n < i.threats.size(); ++n) {
    const Threat &a = i.threats[n - 1], &b = i.threats[n];
    EXPECT_TRUE(a.is_named >= b.is_named);
    if (a.is_named == b.is_named) {
      EXPECT_LE(a.minutes, b.minutes);
    }
  }
}

TEST(Threats, AnOpenThreatSaysWhatWouldSettleIt) {
  const auto i = weighed(patient(30, {found("diminished_breath_sounds", Side::kLeft)}));
  const Threat* t = find_threat(i, "tension");
  ASSERT_NE(t, nullptr);
  EXPECT_FALSE(t->is_named);
  EXPECT_NE(std::find(t->settle.begin(), t->settle.end(), "hypotension"), t->settle.end());
}

TEST(Threats, LackOfASignOrAnAgeAloneLeavesNothingOpen) {
  const auto i = weighed(patient(3, {not_found("wheeze"), not_found("crackles")}));
  for (const Threat& t : i.threats) ADD_FAILURE() << t.id << " is open on nothing";
  const auto working =
      weighed(patient(3, {found("unable_to_speak_sentences"), not_found("crackles")}));
  const Threat* airway = find_threat(working, "airway");
  ASSERT_NE(airway, nullptr);
  EXPECT_FALSE(airway->is_named) << "a wheeze would explain the work";
  EXPECT_NE(std::find(airway->settle_in_words.begin(), airway->settle_in_words.end(), "no wheeze"),
            airway->settle_in_words.end());
}

TEST(Threats, HardWorkOverClearLungsPointsAboveThem) {
  EXPECT_TRUE(named(patient(30, {found("accessory_muscle_use"), not_found("wheeze"),
                                 not_found("fine_crackles"), not_found("coarse_crackles")}),
                    "airway"));
  EXPECT_FALSE(named(patient(30, {found("accessory_muscle_use"), found("wheeze")}), "airway"));
}

TEST(Threats, ASmallChildsOneSidedSignWithoutFeverMeansAnObject) {
  auto x = patient(2, {found("diminished_breath_sounds", Side::kRight)});
  x.vital_signs.temperature_C = 36.9;
  EXPECT_TRUE(named(x, "airway"));
  x.vital_signs.temperature_C = 39.5;
  EXPECT_FALSE(named(x, "airway"));
  x.vital_signs.temperature_C = 36.9;
  x.age_years = 40;
  EXPECT_FALSE(named(x, "airway"));
}

TEST(Threats, BreathlessWithEnoughOxygenIsNotCalmWithoutACapnograph) {
  auto x = patient(40, {found("dyspnoea")});
  x.vital_signs.spo2_percent = 98;
  const auto open = weighed(x);
  EXPECT_NE(find_threat(open, "acidosis"), nullptr);
  x.vital_signs.etco2_mmHg = 38;
  x.findings.push_back(not_found("normal_breath_sounds"));
  x.findings.push_back(not_found("altered_mental_state"));
  const auto settled = weighed(x);
  EXPECT_EQ(find_threat(settled, "acidosis"), nullptr);
}

TEST(Threats, FaultsNameFileLineThreatAndWord) {
  const auto wrong = read_threats(
      "[[threat]]\nid='a'\nlabel='a'\nwhy='w'\nsource='s'\nstatus='s'\nminutes=5\nwhen=[['strider']"
      "]\n",
      "t.toml", the_knowledge().findings);
  ASSERT_FALSE(wrong);
  EXPECT_EQ(
      wrong.error().message,
      "t.toml:8: threat a: finding 'strider' is not in findings.toml. Did you mean 'stridor'?");
}

TEST(Sayings, StandBesideTheEvidenceThatDisagrees) {
  const auto i = weighed(patient(60, {found("purulent_sputum")}));
  ASSERT_EQ(i.sayings.size(), 1u);
  EXPECT_EQ(i.sayings[0].agrees, "no");
  EXPECT_NE(i.sayings[0].evidence.find("1.46"), std::string::npos);
}

TEST(Threats, SayThatTheRuleIsOursAndWhatIsFromMemory) {
  Threat t;
  t.status = "VERIFIED for the rise";
  EXPECT_EQ(standing_in_words(t), "");
  t.status = "times MEMORY";
  EXPECT_EQ(standing_in_words(t), "figures from memory");
  for (const ThreatRule& rule : the_knowledge().threats) {
    EXPECT_EQ(standing_in_words(rule.threat).find("rule is our choice"), 0u) << rule.threat.id;
    EXPECT_EQ(standing_in_words(rule.threat).find("memory") != std::string::npos,
              rule.threat.id == "anaphylaxis")
        << rule.threat.id;
  }
}

}  // namespace
}  // namespace phren::reasoning
