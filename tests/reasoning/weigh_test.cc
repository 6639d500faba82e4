#include "reasoning/weigh.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/random.h"
#include "reasoning/combine.h"
#include "reasoning/json.h"
#include "reasoning/make.h"
#include "reasoning/scale.h"

namespace phren::reasoning {
namespace {

using exam::Presence;
using exam::Side;

constexpr std::uint64_t kSeed = 20261125;

exam::Examination random_patient(RandomStream& random) {
  static const double kAges[] = {0.6, 3, 9, 24, 45, 60, 78};
  exam::Examination x = patient(kAges[random.below(7)]);
  for (const FindingInfo& info : the_knowledge().findings.all()) {
    if (info.pattern || !random.chance(0.3)) continue;
    exam::Finding f = random.chance(0.4) ? found(info.id) : not_found(info.id);
    if (info.sided && f.presence == Presence::kPresent) {
      f.side = random.chance(0.5) ? Side::kRight : Side::kLeft;
    }
    x.findings.push_back(std::move(f));
  }
  if (random.chance(0.7)) x.vital_signs.spo2_percent = random.uniform(75, 100);
  if (random.chance(0.7)) x.vital_signs.heart_rate_per_min = random.uniform(40, 170);
  if (random.chance(0.7)) x.vital_signs.systolic_mmHg = random.uniform(60, 200);
  return x;
}

std::string json_of(const exam::Examination& x) {
  const auto impression = weigh(x, the_knowledge());
  EXPECT_TRUE(impression) << impression.error().message;
  return to_json_text(*impression);
}

TEST(Weigh, NothingFoundLeavesEveryPrior) {
  const auto i = weighed(patient(45));
  EXPECT_EQ(i.ranking.size(), the_knowledge().conditions.size());
  for (const auto& r : i.ranking) {
    EXPECT_TRUE(r.contributions.empty());
    if (!r.is_capped) {
      EXPECT_NEAR(r.posterior, r.prior, 1e-12) << r.id;
    }
  }
}

TEST(Weigh, OrderOfFindingsNeverMatters) {
  RandomStream random(Seed{kSeed}, "order");
  SCOPED_TRACE(kSeed);
  for (int n = 0; n < 60; ++n) {
    exam::Examination x = random_patient(random);
    const std::string before = json_of(x);
    for (std::size_t i = x.findings.size(); i > 1; --i) {
      std::swap(x.findings[i - 1], x.findings[random.below(static_cast<std::uint32_t>(i))]);
    }
    EXPECT_EQ(json_of(x), before);
  }
}

TEST(Weigh, UnknownFindingsChangeNothing) {
  RandomStream random(Seed{kSeed}, "unknown");
  SCOPED_TRACE(kSeed);
  for (int n = 0; n < 60; ++n) {
    exam::Examination x = random_patient(random);
    const std::string before = json_of(x);
    for (const FindingInfo& info : the_knowledge().findings.all()) {
      exam::Finding unknown;
      unknown.id = info.id;
      x.findings.push_back(unknown);
    }
    EXPECT_EQ(json_of(x), before);
  }
}

TEST(Weigh, ADuplicateAddsAtMostTheStatedShrink) {
  RandomStream random(Seed{kSeed}, "duplicate");
  SCOPED_TRACE(kSeed);
  for (int n = 0; n < 60; ++n) {
    exam::Examination x = random_patient(random);
    if (x.findings.empty()) continue;
    const auto before = weighed(x);
    const exam::Finding twin =
        x.findings[random.below(static_cast<std::uint32_t>(x.findings.size()))];
    x.findings.push_back(twin);
    const auto after = weighed(x);
    for (const auto& r : before.ranking) {
      double most = 0.0;
      for (const auto& c : r.contributions) {
        if (c.finding_id == twin.id) most = 0.5 * std::abs(c.log_odds / c.shrink);
      }
      EXPECT_LE(std::abs(ranked(after, r.id).log_odds - r.log_odds), most + 1e-9) << twin.id;
    }
  }
}

// The spread that judged absences are drawn towards, worked out again from the table.
TEST(Weigh, JudgedAbsencesAreDrawnTowardsThePrintedSpread) {
  double squares = 0.0, sampling = 0.0, count = 0.0, with_interval = 0.0;
  for (const EvidenceRow& row : the_knowledge().published) {
    if (row.use != Use::kBoth && row.use != Use::kAbsent) continue;
    const Ratio& r = row.negative;
    if (!r.value || r.derived) continue;
    squares += std::log(*r.value) * std::log(*r.value);
    count += 1.0;
    if (!r.lo || !r.hi || *r.lo <= 0.0) continue;
    sampling += std::pow(std::log(*r.hi / *r.lo) / (2 * 1.96), 2);
    with_interval += 1.0;
  }
  const double spread = std::sqrt(squares / count - sampling / with_interval);
  std::printf("printed log ratios of absent findings: spread %.3f over %.0f rows\n", spread, count);
  EXPECT_NEAR(spread, 0.48, 0.03);
  // Barking cough in croup: 92 of 100, so its absence would be judged to divide by about 12.
  const auto i = weighed(patient(2, {not_found("barking_cough")}));
  for (const auto& c : ranked(i, "croup").contributions) {
    if (c.finding_id == "barking_cough") {
      EXPECT_GT(c.ratio, 0.3);
      EXPECT_LT(c.ratio, 0.8);
    }
  }
}

TEST(Weigh, WhatASecondCauseMayShowSpeaksLessAgainstTheFirst) {
  // Low saturation is rare in bronchitis, but the old often have two causes.
  const auto push = [](double age) {
    auto x = patient(age);
    x.vital_signs.spo2_percent = 88;
    const auto i = weighed(x);
    for (const auto& c : ranked(i, "bronchitis").contributions) {
      if (c.finding_id == "hypoxia") return c.log_odds;
    }
    ADD_FAILURE() << "hypoxia does not push bronchitis";
    return 0.0;
  };
  EXPECT_LT(push(40), 0.0);
  EXPECT_LT(push(70), 0.0);
  EXPECT_GT(push(70), push(40));
  EXPECT_DOUBLE_EQ(chance_of_second_cause(65), 0.47);  // Ray 2006, VERIFIED abstract
}

TEST(Weigh, BothKindsOfCracklesLookedForAndNotFoundMeanNoCrackles) {
  const auto crackles = [](std::vector<exam::Finding> findings) {
    const auto known = observe(patient(70, std::move(findings)), the_knowledge().findings);
    return known.by_finding[*the_knowledge().findings.index_of("crackles")].presence;
  };
  EXPECT_EQ(crackles({not_found("fine_crackles"), not_found("coarse_crackles")}),
            Presence::kAbsent);
  EXPECT_EQ(crackles({not_found("fine_crackles")}), Presence::kUnknown);
  EXPECT_EQ(crackles({found("fine_crackles"), not_found("coarse_crackles")}), Presence::kPresent);
}

TEST(Weigh, ASecondFindingOfAGroupCountsHalf) {
  std::vector<Contribution> c(3);
  c[0].finding_id = "bronchial_breathing";
  c[0].log_odds = 0.8;
  c[1].finding_id = "egophony";
  c[1].log_odds = 1.8;
  c[2].finding_id = "fever";
  c[2].log_odds = 0.9;
  combine(c, the_knowledge().findings, 0.5);
  EXPECT_EQ(c[0].finding_id, "egophony");
  EXPECT_DOUBLE_EQ(c[0].log_odds, 1.8);
  EXPECT_EQ(c[1].finding_id, "fever");
  EXPECT_DOUBLE_EQ(c[1].log_odds, 0.9);
  EXPECT_DOUBLE_EQ(c[2].log_odds, 0.4);
}

TEST(Weigh, IntervalHoldsItsPosteriorAndWidensWithEveryFinding) {
  RandomStream random(Seed{kSeed}, "interval");
  SCOPED_TRACE(kSeed);
  for (int n = 0; n < 40; ++n) {
    const auto all = weighed(random_patient(random)).ranking;
    for (const auto& r : all) {
      EXPECT_LE(r.posterior_lo, r.posterior);
      EXPECT_GE(r.posterior_hi, r.posterior);
      EXPECT_GE(r.posterior_lo, kLowestShown);
      EXPECT_LE(r.posterior_hi, kHighestShown);
      double sum = log_odds_from_probability(r.prior), judged = 0.0;
      for (const auto& c : r.contributions) {
        sum += c.log_odds;
        judged += c.standing == Standing::kEngineering ? c.log_odds : 0.0;
        EXPECT_GE(c.reliability, 0.0);
        EXPECT_LE(c.reliability, 1.0);
      }
      EXPECT_NEAR(sum, r.log_odds, 1e-9) << r.id;
      EXPECT_NEAR(judged, r.engineering_log_odds, 1e-9) << r.id;
    }
  }
}

// The stated interval against 20,000 draws of every likelihood ratio (log-normal) and the prior.
TEST(Weigh, IntervalAgreesWithMonteCarlo) {
  auto x = patient(70, {found("crackles"), found("orthopnoea"), not_found("wheeze")});
  const RankedCondition r = ranked(weighed(x), "cardiogenic_oedema");
  double prior_variance = r.sd * r.sd;
  for (const auto& c : r.contributions) prior_variance -= c.sd * c.sd;
  RandomStream random(Seed{kSeed}, "monte carlo");
  std::vector<double> posterior;
  for (int n = 0; n < 20000; ++n) {
    double log_odds =
        log_odds_from_probability(r.prior) + random.normal(0, std::sqrt(prior_variance));
    for (const auto& c : r.contributions) log_odds += random.normal(c.log_odds, c.sd);
    posterior.push_back(probability_from_log_odds(log_odds));
  }
  std::sort(posterior.begin(), posterior.end());
  constexpr double kTolerance = 0.012;  // sampling error of a 2.5 % quantile of 20,000 draws
  EXPECT_NEAR(posterior[500], r.posterior_lo, kTolerance);
  EXPECT_NEAR(posterior[19500], r.posterior_hi, kTolerance);
}

TEST(Weigh, NotHeardInAMovingVehicleHardlyLowersAnything) {
  const auto x = patient(24, {not_found("wheeze"), not_found("crackles"),
                              found("diminished_breath_sounds", Side::kRight)});
  WeighOptions moving;
  moving.surroundings = Surroundings::kMovingVehicle;
  const auto quiet = weighed(x);
  const auto road = weighed(x, moving);
  for (const auto& r : road.ranking) {
    for (const auto& c : r.contributions) {
      if (c.presence == Presence::kAbsent || c.finding_id == "diminished_breath_sounds" ||
          c.finding_id == "diminished_one_sided") {
        EXPECT_LT(std::abs(c.log_odds), 0.15) << r.id << " " << c.finding_id;
      }
    }
  }
  EXPECT_LT(ranked(quiet, "asthma").log_odds, ranked(road, "asthma").log_odds - 0.5);
}

TEST(Weigh, InstrumentsAreNotDiscountedByKappaButByConfidence) {
  auto x = patient(24, {found("wheeze")});
  const auto strength = [&] {
    const auto all = ranked(weighed(x), "asthma").contributions;
    for (const auto& c : all) {
      if (c.finding_id == "wheeze") return c.reliability;
    }
    return -1.0;
  };
  const double heard = strength();
  x.findings[0].basis = exam::Basis::kMeasured;
  EXPECT_NEAR(strength(), 1.0, 1e-12);
  EXPECT_LT(heard, 0.95);
  x.findings[0].confidence = 0.5;
  EXPECT_NEAR(strength(), 0.0, 1e-12) << "a coin toss says nothing";
}

TEST(Weigh, PublishedOnlyLeavesTeachingJudgementOut) {
  WeighOptions only;
  only.published_only = true;
  RandomStream random(Seed{kSeed}, "published");
  for (int n = 0; n < 20; ++n) {
    const auto all = weighed(random_patient(random), only).ranking;
    for (const auto& r : all) {
      EXPECT_EQ(r.engineering_log_odds, 0.0);
      for (const auto& c : r.contributions) EXPECT_NE(c.row_id, "") << c.finding_id;
    }
  }
}

TEST(Weigh, PublishedFiguresAreUsedAsPrintedAndOnlyInTheirPopulation) {
  auto x = patient(60, {found("crackles"), found("cough")});
  x.findings[0].basis = exam::Basis::kMeasured;
  const auto ratio = [&](const char* condition) {
    const auto all = ranked(weighed(x), condition).contributions;
    for (const auto& c : all) {
      if (c.finding_id == "crackles") return std::pair(c.row_id, c.ratio);
    }
    return std::pair(std::string("none"), 0.0);
  };
  EXPECT_EQ(ratio("cardiogenic_oedema"), std::pair(std::string("P004"), 2.8));
  EXPECT_EQ(ratio("lobar_pneumonia"), std::pair(std::string("P052"), 2.42));
  x.findings.pop_back();
  EXPECT_EQ(ratio("lobar_pneumonia").first, "") << "the study was of people with cough";
}

TEST(Weigh, AStudysOwnLimitIsReadAgainstTheVitalSign) {
  auto x = patient(60);
  const auto row = [&] {
    const auto all = ranked(weighed(x), "cardiogenic_oedema").contributions;
    for (const auto& c : all) {
      if (c.finding_id == "hypotension") return std::pair(c.row_id, c.ratio);
    }
    return std::pair(std::string("none"), 0.0);
  };
  x.vital_signs.systolic_mmHg = 95;  // not low by our limit of 90, low by the study's of 100
  EXPECT_EQ(row(), std::pair(std::string("P016"), 2.0));
  x.vital_signs.systolic_mmHg = 100;
  EXPECT_EQ(row(), std::pair(std::string("P016"), 0.97));
}

TEST(Weigh, FamiliarPicturesComeFirst) {
  const auto first = [](const exam::Examination& x) { return weighed(x).ranking.front().id; };
  auto asthma = patient(24, {found("wheeze", Side::kRight), found("wheeze", Side::kLeft),
                             found("prolonged_expiration"), found("history_asthma")});
  EXPECT_EQ(first(asthma), "asthma");
  EXPECT_EQ(first(patient(2, {found("stridor"), found("barking_cough")})), "croup");
  auto lung =
      patient(27, {found("diminished_breath_sounds", Side::kRight), found("sudden_onset"),
                   found("hyperresonant_percussion", Side::kRight), found("pleuritic_chest_pain")});
  EXPECT_EQ(first(lung), "pneumothorax");
  auto oedema = patient(74, {found("fine_crackles", Side::kRight),
                             found("fine_crackles", Side::kLeft), found("orthopnoea")});
  oedema.vital_signs.systolic_mmHg = 178;
  oedema.vital_signs.spo2_percent = 86;
  EXPECT_EQ(first(oedema), "cardiogenic_oedema");
}

TEST(Weigh, FaultsNameTheSettingAndTheKnownOnes) {
  auto x = patient(40);
  x.setting = "moon";
  EXPECT_EQ(weigh(x, the_knowledge()).error().message,
            "setting is 'moon'; it must be one of clinic, ems_adult, ems_child");
  WeighOptions options;
  options.shrink = 0.0;
  EXPECT_EQ(weigh(patient(40), the_knowledge(), options).error().message,
            "shrink is 0; it must be above 0 and at most 1");
}

TEST(Weigh, UnknownIdsOfARecordAreRemarkedNotFatal) {
  const auto i = weighed(patient(40, {found("hiccups")}));
  ASSERT_EQ(i.remarks.size(), 1u);
  EXPECT_NE(i.remarks[0].find("'hiccups'"), std::string::npos);
}

TEST(WeighJson, SaysWhatTheImpressionSays) {
  const auto i = weighed(patient(24, {found("wheeze"), found("stridor")}));
  const auto j = nlohmann::json::parse(to_json_text(i));
  ASSERT_EQ(j["ranking"].size(), i.ranking.size());
  EXPECT_EQ(j["ranking"][0]["id"], i.ranking[0].id);
  EXPECT_NEAR(j["ranking"][0]["posterior"].get<double>(), i.ranking[0].posterior, 1e-8);
  EXPECT_EQ(j["threats"][0]["id"], "airway");
  EXPECT_TRUE(j["threats"][0]["is_named"].get<bool>());
  EXPECT_FALSE(j["looks"].empty());
}

}  // namespace
}  // namespace phren::reasoning
