#include "reasoning/rules.h"

#include <gtest/gtest.h>

#include "reasoning/make.h"

namespace phren::reasoning {
namespace {

const RuleResult* rule(const Impression& i, const std::string& id) {
  for (const auto& r : i.rules) {
    if (r.id == id) return &r;
  }
  return nullptr;
}

TEST(Rules, AnItemNobodyLookedAtLeavesARange) {
  auto x = patient(50, {found("cough"), found("crackles")});
  x.vital_signs.temperature_C = 38.5;
  const auto i = weighed(x);
  const RuleResult* r = rule(i, "heckerling_count");
  ASSERT_NE(r, nullptr);
  EXPECT_EQ(r->lowest, 2);
  EXPECT_EQ(r->highest, 5);
  EXPECT_EQ(r->band, "between '2 of 5' and '5 of 5'");
  EXPECT_FALSE(r->probability);
}

TEST(Rules, AllItemsKnownGiveScoreBandAndRatio) {
  auto x = patient(50, {found("cough"), found("crackles"), found("diminished_breath_sounds"),
                        not_found("history_asthma")});
  x.vital_signs.temperature_C = 38.5;
  x.vital_signs.heart_rate_per_min = 90;
  const auto i = weighed(x);
  const RuleResult* r = rule(i, "heckerling_count");
  EXPECT_EQ(r->lowest, 4);
  EXPECT_EQ(r->highest, 4);
  EXPECT_EQ(r->ratio.value(), 7.18);
  EXPECT_NEAR(rule(i, "heckerling_model")->probability.value(), 0.5861, 1e-4);
}

TEST(Rules, ApplyOnlyToTheirPopulation) {
  EXPECT_EQ(rule(weighed(patient(8, {found("cough")})), "heckerling_count"), nullptr);
  EXPECT_EQ(rule(weighed(patient(50, {found("stridor")})), "westley"), nullptr);
  EXPECT_NE(rule(weighed(patient(2, {found("stridor")})), "westley"), nullptr);
}

TEST(Rules, AsthmaBandsAreExactAtTheirEdges) {
  const auto band = [](double spo2, double rate, double pulse) {
    auto x = patient(30, {found("wheeze"), not_found("silent_chest"), not_found("cyanosis"),
                          not_found("exhaustion"), not_found("altered_mental_state"),
                          not_found("unable_to_speak_sentences")});
    x.vital_signs.spo2_percent = spo2;
    x.vital_signs.respiratory_rate_per_min = rate;
    x.vital_signs.heart_rate_per_min = pulse;
    x.vital_signs.systolic_mmHg = 120;
    return rule(weighed(x), "asthma_severity_adult")->band;
  };
  EXPECT_EQ(band(92, 24, 109).substr(0, 8), "moderate");
  EXPECT_EQ(band(92, 25, 109), "acute severe");
  EXPECT_EQ(band(92, 24, 110), "acute severe");
  EXPECT_EQ(band(91, 24, 109), "life-threatening");
}

TEST(Rules, TheTwoAnaphylaxisDefinitionsDifferOnAnIsolatedAirwayReaction) {
  auto x = patient(30, {found("allergen_exposure"), found("stridor"), not_found("urticaria"),
                        not_found("angioedema"), found("dyspnoea"), not_found("wheeze"),
                        not_found("syncope"), not_found("hoarse_voice")});
  x.vital_signs.systolic_mmHg = 125;
  x.vital_signs.spo2_percent = 97;
  const auto i = weighed(x);
  EXPECT_EQ(rule(i, "anaphylaxis_wao_2020")->band, "met");
  EXPECT_EQ(rule(i, "anaphylaxis_niaid_2006")->band, "not met");
}

TEST(Rules, FaultsNameFileRuleAndField) {
  const std::string head = "[[rule]]\nid='r'\nlabel='r'\nabout='a'\nsource='s'\nstatus='s'\n";
  const auto message = [&](const std::string& rest) {
    return read_rules(head + rest, "r.toml", the_knowledge().findings).error().message;
  };
  EXPECT_EQ(message("kind='guess'\n"),
            "r.toml:7: rule r: kind is 'guess'; it must be points, logistic, signed_logistic or "
            "criteria");
  EXPECT_EQ(message("kind='points'\n"), "r.toml:1: rule r: item is missing; it is required");
  EXPECT_NE(
      message("kind='points'\nitem=[{label='x',points=0}]\n").find("needs points other than 0"),
      std::string::npos);
}

}  // namespace
}  // namespace phren::reasoning
