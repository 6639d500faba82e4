#include <gtest/gtest.h>

#include <cmath>

#include "base/files.h"
#include "base/random.h"
#include "teaching/statistics/adaptive_test.h"
#include "teaching/statistics/catalogue.h"
#include "teaching/statistics/item_calibration.h"
#include "teaching/statistics/many_raters.h"
#include "teaching/statistics/proportion.h"
#include "teaching/statistics/rasch.h"
#include "teaching/statistics/reliability.h"
#include "teaching/statistics/sequential_test.h"
#include "teaching/statistics/sparse_calibration.h"
#include "teaching/statistics/standard_setting.h"
#include "teaching/statistics/two_raters.h"

namespace phren::teaching {
namespace {

TEST(Proportion, IntervalHoldsTheShareAndStaysWithin0And1) {
  for (int n = 1; n <= 40; ++n) {
    for (int x = 0; x <= n; ++x) {
      SCOPED_TRACE(std::to_string(x) + "/" + std::to_string(n));
      const auto e = proportion(x, n);
      ASSERT_TRUE(e);
      EXPECT_LE(0.0, e->low);
      EXPECT_LE(e->low, e->value);
      EXPECT_LE(e->value, e->high);
      EXPECT_LE(e->high, 1.0);
    }
  }
}

TEST(Proportion, RefusesMoreSuccessesThanTrials) {
  const auto wrong = proportion(5, 4);
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().message, "successes is 5; it must be between 0 and the number of trials");
  EXPECT_FALSE(proportion(0, 0));
  EXPECT_FALSE(proportion(NAN, 3));
}

TEST(Detection, PerfectScoresWithoutCorrectionAreAnErrorNotInfinity) {
  const auto wrong = detection({10, 10, 0, 10}, false);
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().message.find("log-linear"), std::string::npos);
}

TEST(CohenKappa, IsOneForFullAgreementAndZeroForIndependence) {
  EXPECT_DOUBLE_EQ(cohen_kappa({{10, 0}, {0, 7}}, unweighted(2))->kappa.value, 1.0);
  EXPECT_NEAR(cohen_kappa({{6, 4}, {12, 8}}, unweighted(2))->kappa.value, 0.0, 1e-12);
}

TEST(CohenKappa, DoesNotChangeWhenRatersSwap) {
  const Table table{{10, 3, 1}, {2, 9, 4}, {0, 5, 8}};
  const Table swapped{{10, 2, 0}, {3, 9, 5}, {1, 4, 8}};
  EXPECT_NEAR(cohen_kappa(table, linear_weights(3))->kappa.value,
              cohen_kappa(swapped, linear_weights(3))->kappa.value, 1e-12);
}

TEST(CohenKappa, NamesTheBadCellAndTheUndefinedCase) {
  EXPECT_EQ(cohen_kappa({{1, 2}, {3, -1}}, unweighted(2)).error().message,
            "table row 2 column 2 is -1; it must be 0 or more");
  EXPECT_NE(cohen_kappa({{5, 0}, {0, 0}}, unweighted(2)).error().message.find("one category only"),
            std::string::npos);
  EXPECT_EQ(cohen_kappa({{1, 2}, {3}}, unweighted(2)).error().message,
            "length of table row 2 is 1; it must be 2, as many as rows");
}

// The 95 % interval should hold the true kappa about 95 times in 100.
TEST(CohenKappa, IntervalCoversTheTrueValue) {
  constexpr std::uint64_t kSeed = 11;
  RandomStream random(Seed{kSeed}, "kappa coverage");
  int held = 0;
  constexpr int kRuns = 1000;
  for (int run = 0; run < kRuns; ++run) {
    Table table{{0, 0}, {0, 0}};
    for (int i = 0; i < 150; ++i) {
      // Half the things are of each kind; each rater is right 85 times in 100: kappa = .49.
      const bool truth = random.chance(0.5);
      const bool a = random.chance(0.85) == truth, b = random.chance(0.85) == truth;
      table[a ? 1 : 0][b ? 1 : 0] += 1.0;
    }
    const auto k = cohen_kappa(table, unweighted(2));
    held += k->kappa.low <= 0.49 && 0.49 <= k->kappa.high ? 1 : 0;
  }
  std::printf("kappa interval held the truth in %d of %d (seed %llu)\n", held, kRuns,
              static_cast<unsigned long long>(kSeed));
  EXPECT_GT(held, 930);
  EXPECT_LT(held, 975);
}

TEST(CohenKappa, WeightedErrorAgreesWithJackknife) {
  const Table table{{88, 14, 18}, {10, 40, 10}, {2, 6, 12}};
  std::vector<std::pair<std::size_t, std::size_t>> units;
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) {
      for (double k = 0.0; k < table[i][j]; ++k) units.emplace_back(i, j);
    }
  }
  const auto all = cohen_kappa(table, quadratic_weights(3));
  const Estimate left_out = jackknife(all->kappa.value, units.size(), [&](std::size_t u) {
    Table rest = table;
    rest[units[u].first][units[u].second] -= 1.0;
    return cohen_kappa(rest, quadratic_weights(3))->kappa.value;
  });
  EXPECT_NEAR(all->kappa.se, left_out.se, 0.02 * left_out.se);
}

TEST(Krippendorff, NominalAlphaIsOneWhenAllAgree) {
  const Ratings ratings{{1.0, 2.0, std::nullopt, 1.0}, {1.0, 2.0, 2.0, std::nullopt}};
  EXPECT_DOUBLE_EQ(krippendorff_alpha(ratings, Metric::kNominal)->alpha.value, 1.0);
}

TEST(Krippendorff, RefusesConstantAndRaggedRatings) {
  const auto constant = krippendorff_alpha({{1.0, 1.0}, {1.0, 1.0}}, Metric::kNominal);
  ASSERT_FALSE(constant);
  EXPECT_NE(constant.error().message.find("all ratings are equal"), std::string::npos);
  const auto ragged = krippendorff_alpha({{1.0, 1.0}, {1.0}}, Metric::kNominal);
  EXPECT_EQ(ragged.error().message, "units of rater 2 is 1; it must be 2, as for the first rater");
}

TEST(Reliability, RefusesAConstantTotalAndNamesGradedScores) {
  EXPECT_NE(cronbach_alpha({{1, 0}, {0, 1}, {1, 0}}).error().message.find("same total"),
            std::string::npos);
  EXPECT_EQ(kr20({{1, 0}, {0, 2}, {1, 1}}).error().message,
            "score of person 2 item 2 is 2; it must be 0 or 1; use alpha for graded items");
}

TEST(Reliability, Kr21NeverExceedsKr20) {
  RandomStream random(Seed{5}, "kr21");
  for (int run = 0; run < 50; ++run) {
    Table scores;
    for (int person = 0; person < 30; ++person) {
      const double ability = random.normal();
      scores.emplace_back();
      for (int item = 0; item < 8; ++item) {
        scores.back().push_back(
            random.chance(probability_right({1.0, -1.5 + 0.4 * item}, ability)) ? 1.0 : 0.0);
      }
    }
    const auto twenty = kr20(scores), twenty_one = kr21(scores);
    if (twenty && twenty_one) {
      EXPECT_LE(twenty_one->value, twenty->value + 1e-12);
    }
  }
}

TEST(Reliability, UpperLowerGroupsShareTiesInProportion) {
  // Ten persons, 27 % = 2.7 of them. Totals 2 2 2 2 | 1 1 1 | 0 0 0: the best 2.7 are all 2s.
  const Table scores{{1, 1}, {1, 1}, {1, 1}, {1, 1}, {1, 0},
                     {0, 1}, {0, 1}, {0, 0}, {0, 0}, {0, 0}};
  const auto items = analyse_items(scores);
  EXPECT_NEAR((*items)[0].upper_lower.value, 1.0, 1e-12);
  EXPECT_TRUE(std::isnan((*items)[0].alpha_if_dropped));
}

TEST(ItemResponse, InformationPeaksAtTheDifficultyWithAQuarterOfSlopeSquared) {
  const Item item{1.7, 0.4};
  EXPECT_NEAR(information(item, 0.4), 1.7 * 1.7 / 4.0, 1e-12);
  for (const double theta : {-2.0, 0.0, 0.39, 0.41, 3.0}) {
    EXPECT_LT(information(item, theta), 1.7 * 1.7 / 4.0);
  }
}

TEST(ItemResponse, InformationIsTheCurvatureOfTheExpectedLikelihood) {
  const Item item{1.3, -0.2, 0.2};  // three parameters
  for (const double theta : {-1.0, 0.0, 1.5}) {
    constexpr double kStep = 1e-5;
    const double p = probability_right(item, theta);
    const double slope =
        (probability_right(item, theta + kStep) - probability_right(item, theta - kStep)) /
        (2.0 * kStep);
    EXPECT_NEAR(information(item, theta), slope * slope / (p * (1.0 - p)), 1e-8);
  }
}

TEST(ItemResponse, NoAnswersGiveThePriorBack) {
  EXPECT_NEAR(ability_eap({}).value, 0.0, 1e-9);
  EXPECT_NEAR(ability_eap({}).se, 1.0, 1e-6);
  EXPECT_FALSE(ability_wle({}).has_value());
  EXPECT_FALSE(ability_mle({{{1.0, 0.0}, true}}).has_value());
}

TEST(Calibration, RecoversKnownItems) {
  RandomStream random(Seed{3}, "calibration");
  const std::vector<double> truth{-1.5, -0.5, 0.0, 0.7, 1.3};
  std::vector<AnswerPattern> patterns;
  for (int person = 0; person < 1500; ++person) {
    const double ability = random.normal();
    AnswerPattern pattern;
    for (const double b : truth) {
      pattern.right.push_back(random.chance(probability_right({1.0, b}, ability)) ? 1 : 0);
    }
    patterns.push_back(pattern);
  }
  const auto marginal = calibrate_marginal(patterns, SlopeModel::kUnit);
  const auto conditional = calibrate_rasch(patterns);
  ASSERT_TRUE(marginal && conditional);
  for (std::size_t j = 0; j < truth.size(); ++j) {
    EXPECT_NEAR(marginal->items[j].difficulty.value, truth[j],
                4.0 * marginal->items[j].difficulty.se);
    EXPECT_NEAR(conditional->difficulty[j].value, truth[j], 4.0 * conditional->difficulty[j].se);
  }
}

TEST(Calibration, NamesTheItemThatEveryoneGotRight) {
  const auto wrong = calibrate_rasch({{{1, 1}, 5.0}, {{1, 0}, 5.0}});
  EXPECT_EQ(
      wrong.error().message,
      "number right of item 1 is 10; it must be between 1 and all but one; leave the item out");
}

// Thirty learners, each met about half of 20 items, some several times, with lucky guesses: the
// 95 % intervals should hold the true difficulties about 95 times in 100.
TEST(SparseCalibration, IntervalsHoldTheTrueDifficulties) {
  constexpr std::uint64_t kSeed = 31;
  RandomStream random(Seed{kSeed}, "sparse");
  int held = 0, of = 0;
  for (int run = 0; run < 40; ++run) {
    std::vector<ItemPrior> items;
    std::vector<double> truth;
    for (int j = 0; j < 20; ++j) {
      items.push_back({j % 2 == 0 ? 0.1 : 0.5, 0.0, 1.0});
      truth.push_back(random.normal());
    }
    std::vector<AnswerCount> counts;
    for (std::size_t i = 0; i < 30; ++i) {
      const double ability = random.normal();
      for (std::size_t j = 0; j < items.size(); ++j) {
        AnswerCount one{i, j, 0.0, 0.0};
        for (int times = random.chance(0.5) ? 1 + static_cast<int>(random.below(3)) : 0; times > 0;
             --times) {
          one.answers += 1.0;
          one.right +=
              random.chance(probability_right({1.0, truth[j], items[j].guess}, ability)) ? 1 : 0;
        }
        counts.push_back(one);
      }
    }
    const auto fit = calibrate_sparse(counts, items);
    ASSERT_TRUE(fit) << fit.error().message;
    for (std::size_t j = 0; j < items.size(); ++j, ++of) {
      const Estimate& b = (*fit)[j].difficulty;
      held += b.low <= truth[j] && truth[j] <= b.high ? 1 : 0;
    }
  }
  std::printf("intervals that hold the difficulty, seed %llu: %d of %d\n",
              static_cast<unsigned long long>(kSeed), held, of);
  EXPECT_NEAR(held / static_cast<double>(of), 0.95, 0.03);
}

TEST(SparseCalibration, NoAnswersLeaveThePriorAndBadOnesAreNamed) {
  const auto fit = calibrate_sparse({}, {{0.25, 0.4, 0.7}});
  ASSERT_TRUE(fit);
  EXPECT_DOUBLE_EQ((*fit)[0].difficulty.value, 0.4);
  EXPECT_NEAR((*fit)[0].difficulty.se, 0.7, 1e-12);
  EXPECT_EQ(calibrate_sparse({{0, 0, 1, 2}}, {{}}).error().message,
            "right of count 1 is 2; it must be between 0 and the answers");
  EXPECT_FALSE(calibrate_sparse({{0, 1, 1, 1}}, {{}}));
  EXPECT_FALSE(calibrate_sparse({}, {{1.0, 0, 1}}));
}

// The flatter curve is the true curve averaged over what the difficulty may be.
TEST(SparseCalibration, AnUncertainDifficultyIsItsCurveAveraged) {
  for (const double se : {0.0, 0.3, 0.6, 1.0}) {
    for (double ability = -3.0; ability <= 3.0; ability += 0.5) {
      double sum = 0.0, all = 0.0;
      for (double z = -6.0; z <= 6.0; z += 0.01) {
        const double w = normal_density(z);
        sum += w * probability_right({1.0, 0.5 + se * z, 0.2}, ability);
        all += w;
      }
      EXPECT_NEAR(probability_right(item_of_uncertain_difficulty(0.5, se, 0.2), ability), sum / all,
                  0.02)
          << se << " " << ability;
    }
  }
}

TEST(AdaptiveTest, AsksNothingTwiceAndStopsWhenPrecise) {
  std::vector<Item> bank;
  for (int i = 0; i < 200; ++i) bank.push_back({1.5, -3.0 + 0.03 * i});
  auto test = AdaptiveTest::make(bank, {}, Seed{1}).value();
  RandomStream random(Seed{2}, "answers");
  std::vector<bool> asked(bank.size(), false);
  while (const auto item = test.next()) {
    EXPECT_FALSE(asked[*item]);
    asked[*item] = true;
    test.answer(*item, random.chance(probability_right(bank[*item], 0.8)));
  }
  EXPECT_EQ(test.stop_reason(), StopReason::kPrecise);
  EXPECT_LE(test.ability().se, 0.30);
  EXPECT_NEAR(test.ability().value, 0.8, 4.0 * test.ability().se);
}

TEST(AdaptiveTest, RefusesBadItemsByName) {
  EXPECT_EQ(AdaptiveTest::make({{1, 0}, {-1, 0}}, {}, Seed{1}).error().message,
            "slope of item 2 is -1; it must be above 0");
  EXPECT_FALSE(AdaptiveTest::make({}, {}, Seed{1}));
}

// The promised error rates hold: of many who just have not mastered, at most alpha pass (Wald's
// bounds are conservative because the evidence overshoots them).
TEST(SequentialTest, KeepsItsErrorRates) {
  constexpr std::uint64_t kSeed = 21;
  RandomStream random(Seed{kSeed}, "sequential");
  constexpr int kRuns = 4000;
  int false_pass = 0, false_fail = 0;
  double length = 0.0;
  for (int run = 0; run < kRuns; ++run) {
    SequentialConfig config;
    config.max_items = 1000;
    auto low = SequentialTest::make(config).value(), high = low;
    while (low.decision() == Mastery::kUndecided) low.record(random.chance(0.60));
    while (high.decision() == Mastery::kUndecided) high.record(random.chance(0.85));
    false_pass += low.decision() == Mastery::kMastered ? 1 : 0;
    false_fail += high.decision() == Mastery::kNotMastered ? 1 : 0;
    length += static_cast<double>(low.num_items()) / kRuns;
  }
  std::printf("false pass %d, false fail %d of %d, mean length %.2f (seed %llu)\n", false_pass,
              false_fail, kRuns, length, static_cast<unsigned long long>(kSeed));
  EXPECT_LT(false_pass, kRuns * 0.06);
  EXPECT_LT(false_fail, kRuns * 0.06);
  EXPECT_GT(length, 14.45);  // overshoot makes it longer than the approximation
  EXPECT_LT(length, 17.5);
}

TEST(SequentialTest, RefusesSharesInTheWrongOrder) {
  SequentialConfig config;
  config.mastered_share = 0.5;
  EXPECT_EQ(SequentialTest::make(config).error().message,
            "mastered_share is 0.5; it must be above not_mastered_share and below 1");
}

TEST(BorderlineRegression, GivesNoCutFromAFlatLineAndWarnsOfFewBorderline) {
  const auto flat = borderline_regression({{1, 10}, {2, 9}, {3, 8}, {4, 7}}, 2);
  ASSERT_FALSE(flat);
  EXPECT_NE(flat.error().message.find("better rated candidates must score higher"),
            std::string::npos);
  const auto few = borderline_regression({{1, 7}, {3, 9}, {4, 11}, {5, 12}}, 2);
  ASSERT_TRUE(few);
  ASSERT_FALSE(few->warnings.empty());
  EXPECT_NE(few->warnings[0].find("only 0 learners rated borderline"), std::string::npos);
}

TEST(Catalogue, ExplainsEveryStatisticInOneSentence) {
  const auto catalogue = StatisticCatalogue::load(data_directory() / "statistics.toml");
  ASSERT_TRUE(catalogue) << catalogue.error().message;
  for (const std::string_view id : statistic_ids()) {
    const auto note = catalogue->find(id);
    ASSERT_TRUE(note) << note.error().message;
    EXPECT_EQ(note->meaning.find(". "), std::string::npos) << id << ": more than one sentence";
    EXPECT_EQ(note->meaning.back(), '.') << id;
    EXPECT_FALSE(note->uncertainty.empty()) << id;
  }
  EXPECT_EQ(catalogue->all().size(), statistic_ids().size());
}

TEST(Catalogue, NamesTheLineOfABadEntry) {
  const auto wrong = StatisticCatalogue::parse(
      "[[statistic]]\nid='a'\nname='A'\nmeaning='m.'\nuncertainty='u'\nsource='s'\nstatus='SURE'\n",
      "statistics.toml");
  EXPECT_EQ(
      wrong.error().message,
      "statistics.toml:7: [[statistic]] status is 'SURE'; it must be one of VERIFIED, MEMORY, "
      "ENGINEERING");
}

}  // namespace
}  // namespace phren::teaching
