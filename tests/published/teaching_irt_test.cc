// Item response models against values printed by R packages ltm, mirt and eRm for the LSAT
// sections, and against worked traces. Sources: tests/published/psychometrics/README.md.
#include <gtest/gtest.h>

#include "psychometrics_csv.h"
#include "teaching/statistics/adaptive_test.h"
#include "teaching/statistics/item_calibration.h"
#include "teaching/statistics/rasch.h"
#include "teaching/statistics/sparse_calibration.h"

namespace phren::teaching {
namespace {

using published::number;
using published::read_csv;
using published::Tally;

std::vector<AnswerPattern> lsat(const std::string& column) {
  std::vector<AnswerPattern> patterns;
  for (const auto& row : read_csv("lsat6_lsat7_patterns.csv")) {
    AnswerPattern pattern{{}, number(row, column)};
    for (int j = 1; j <= 5; ++j) {
      pattern.right.push_back(static_cast<int>(number(row, "i" + std::to_string(j))));
    }
    patterns.push_back(pattern);
  }
  return patterns;
}

// Whoever stopped early, our maximum must not lie below the reference's.
void expect_higher_than_reference(const std::map<std::string, Calibration>& fits) {
  std::map<std::string, std::vector<Item>> reference;
  for (const auto& row : read_csv("irt_reference_estimates.csv")) {
    reference[row.at("test") + " " + row.at("model")].push_back(
        item_from_intercept(number(row, "a_slope"), number(row, "d_intercept")));
  }
  for (const auto& [key, items] : reference) {
    const auto patterns = lsat(key.starts_with("LSAT6") ? "lsat6_freq" : "lsat7_freq");
    EXPECT_GE(fits.at(key).log_likelihood, marginal_log_likelihood(patterns, items) - 1e-9) << key;
  }
}

TEST(PublishedItemResponse, MarginalEstimatesMatchLtm) {
  Tally tally("marginal estimates");
  std::map<std::string, Calibration> fits;
  for (const auto& row : read_csv("irt_reference_estimates.csv")) {
    const std::string key = row.at("test") + " " + row.at("model");
    const std::string& model = row.at("model");
    if (!fits.contains(key)) {
      const auto fit = calibrate_marginal(
          lsat(row.at("test") == "LSAT6" ? "lsat6_freq" : "lsat7_freq"),
          model == "2PL" ? SlopeModel::kFree
                         : (model == "1PL" ? SlopeModel::kCommon : SlopeModel::kUnit));
      ASSERT_TRUE(fit) << fit.error().message;
      EXPECT_TRUE(fit->converged) << key;
      fits[key] = *fit;
      tally.near(key + " log L", fit->log_likelihood, number(row, "logLik"), 6e-4);
    }
    const auto& item = fits[key].items[static_cast<std::size_t>(number(row, "item")) - 1];
    // ltm and mirt stop a little before the top, which is flat, most of all for LSAT-6 2PL.
    const double tolerance = key == "LSAT6 2PL" ? 3e-3 : 1e-3;
    tally.near(key + " slope", item.slope.value, number(row, "a_slope"), tolerance);
    tally.near(key + " intercept", item.intercept.value, number(row, "d_intercept"), tolerance);
    tally.near(key + " difficulty", item.difficulty.value, number(row, "b_difficulty"), tolerance);
  }
  expect_higher_than_reference(fits);
  tally.near("LSAT-6 2PL G2", fits["LSAT6 2PL"].likelihood_ratio, 21.23, 0.005);
  tally.near("LSAT-6 2PL X2", fits["LSAT6 2PL"].pearson, 18.14, 0.02);
  tally.near("LSAT-6 2PL df", fits["LSAT6 2PL"].degrees_of_freedom, 21, 0);
  tally.near("LSAT-7 2PL G2", fits["LSAT7 2PL"].likelihood_ratio, 31.70, 0.005);
}

// With complete answers, no guessing and no prior, the calibration from sparse answers is the Rasch
// model with abilities N(0, 1): R package ltm, irt_reference_estimates.csv, model "Rasch a=1".
TEST(PublishedItemResponse, SparseCalibrationOfCompleteAnswersMatchesLtm) {
  Tally tally("sparse calibration");
  const auto check = [&](const char* column, const std::vector<double>& b) {
    std::vector<AnswerCount> counts;
    std::size_t person = 0;
    for (const AnswerPattern& pattern : lsat(column)) {
      for (int copy = 0; copy < static_cast<int>(pattern.frequency); ++copy, ++person) {
        for (std::size_t j = 0; j < 5; ++j) {
          counts.push_back({person, j, 1.0, static_cast<double>(pattern.right[j])});
        }
      }
    }
    const auto fit = calibrate_sparse(counts, std::vector<ItemPrior>(5, {0.0, 0.0, HUGE_VAL}));
    const auto whole = calibrate_marginal(lsat(column), SlopeModel::kUnit);
    ASSERT_TRUE(fit && whole);
    for (std::size_t j = 0; j < 5; ++j) {
      if (!b.empty()) tally.near("difficulty", (*fit)[j].difficulty.value, b[j], 1e-3);
      EXPECT_NEAR((*fit)[j].difficulty.value, whole->items[j].difficulty.value, 1e-4);
      EXPECT_NEAR((*fit)[j].difficulty.se, whole->items[j].difficulty.se, 1e-3);
    }
  };
  check("lsat6_freq", {-2.87197, -1.06303, -.25761, -1.38806, -2.21878});
  check("lsat7_freq", {});
}

TEST(PublishedItemResponse, ConditionalRaschMatchesErm) {
  Tally tally("conditional Rasch");
  const auto check = [&](const char* column, std::vector<double> b, double log_l,
                         std::vector<double> theta, std::vector<double> se) {
    const auto fit = calibrate_rasch(lsat(column));
    ASSERT_TRUE(fit) << fit.error().message;
    for (std::size_t j = 0; j < b.size(); ++j) {
      tally.near("difficulty", fit->difficulty[j].value, b[j], 1e-5);
    }
    tally.near("log L", fit->log_likelihood, log_l, 6e-4);
    for (std::size_t s = 0; s < theta.size(); ++s) {
      tally.near("ability", fit->ability_by_score[s].value, theta[s], 1e-5);
      if (s < se.size()) tally.near("se", fit->ability_by_score[s].se, se[s], 6e-5);
    }
  };
  check("lsat6_freq", {-1.256128, .474907, 1.235981, .168410, -.623170}, -1091.570,
        {-1.60153, -.47433, .48086, 1.59995}, {1.1811, .9898, .9874, 1.1768});
  check("lsat7_freq", {-.541470, .536546, -.133583, .805166, -.666659}, -1182.700,
        {-1.48610, -.44258, .43631, 1.48701}, {});
}

const std::vector<Item>& lsat7_items() {
  static const std::vector<Item> items{
      item_from_intercept(.988, 1.856), item_from_intercept(1.081, .808),
      item_from_intercept(1.706, 1.804), item_from_intercept(.765, .486),
      item_from_intercept(.736, 1.855)};
  return items;
}

// Independent code with the rounded parameters that the mirt package's own tests carry.
TEST(PublishedItemResponse, AbilityOfAll32Patterns) {
  Tally tally("abilities");
  for (const auto& row : read_csv("lsat7_2pl_person_scores.csv")) {
    const std::string& pattern = row.at("pattern");
    Responses responses;
    for (std::size_t j = 0; j < 5; ++j) responses.push_back({lsat7_items()[j], pattern[j] == '1'});
    const Estimate eap = ability_eap(responses), map = ability_map(responses);
    tally.near(pattern + " EAP", eap.value, number(row, "eap"), 2e-6);
    tally.near(pattern + " EAP sd", eap.se, number(row, "eap_sd"), 2e-6);
    tally.near(pattern + " MAP", map.value, number(row, "map"), 2e-6);
    tally.near(pattern + " MAP se", map.se, number(row, "map_se"), 2e-6);
    tally.near(pattern + " WLE", ability_wle(responses)->value, number(row, "wle"), 2e-6);
    const auto mle = ability_mle(responses);
    ASSERT_EQ(mle.has_value(), !row.at("mle").empty()) << pattern;
    if (!mle) continue;
    tally.near(pattern + " MLE", mle->value, number(row, "mle"), 2e-6);
    tally.near(pattern + " MLE se", mle->se, number(row, "mle_se"), 2e-6);
  }
}

TEST(PublishedItemResponse, Information) {
  Tally tally("information");
  for (const auto& row : read_csv("lsat7_2pl_information.csv")) {
    const double theta = number(row, "theta");
    double sum = 0.0;
    for (std::size_t j = 0; j < 5; ++j) {
      const double own = information(lsat7_items()[j], theta);
      tally.near("item", own, number(row, "i" + std::to_string(j + 1)), 1e-6);
      sum += own;
    }
    tally.near("test", sum, number(row, "test_info"), 1e-6);
    tally.near("se", 1.0 / std::sqrt(sum), number(row, "se"), 2e-6);
  }
}

// A worked ten-item trace with its bank (constructed, computed by independent code).
TEST(PublishedItemResponse, AdaptiveTrace) {
  Tally tally("adaptive trace");
  std::vector<Item> bank;
  for (const auto& row : read_csv("cat_example_bank.csv")) {
    bank.push_back({number(row, "a"), number(row, "b")});
  }
  AdaptiveConfig config;
  config.target_se = 0.1;
  auto test = AdaptiveTest::make(bank, config, Seed{1});
  ASSERT_TRUE(test);
  for (const auto& row : read_csv("cat_example_trace.csv")) {
    const auto item = test->next();
    ASSERT_TRUE(item);
    tally.near("item", static_cast<double>(*item) + 1.0, number(row, "item_chosen"), 0);
    tally.near("information", information(bank[*item], test->ability().value),
               number(row, "info_at_theta"), 2e-6);
    test->answer(*item, row.at("response") == "1");
    tally.near("EAP", test->ability().value, number(row, "eap_after"), 2e-6);
    tally.near("sd", test->ability().se, number(row, "posterior_sd"), 2e-6);
  }
  EXPECT_EQ(test->stop_reason(), StopReason::kBankEmpty);
}

}  // namespace
}  // namespace phren::teaching
