// Statistics of the teaching room against published and reference values. The tables and their
// sources: tests/published/psychometrics/README.md.
#include <gtest/gtest.h>

#include "psychometrics_csv.h"
#include "teaching/statistics/many_raters.h"
#include "teaching/statistics/proportion.h"
#include "teaching/statistics/reliability.h"
#include "teaching/statistics/sequential_test.h"
#include "teaching/statistics/standard_setting.h"
#include "teaching/statistics/two_raters.h"

namespace phren::teaching {
namespace {

using published::number;
using published::read_csv;
using published::Tally;

std::map<std::string, Table> two_rater_tables() {
  std::map<std::string, Table> tables;
  for (const auto& row : read_csv("two_rater_tables.csv")) {
    Table& table = tables[row.at("table")];
    const auto i = static_cast<std::size_t>(number(row, "row"));
    const auto j = static_cast<std::size_t>(number(row, "col"));
    const std::size_t q = std::max({table.size(), i, j});
    table.resize(q);
    for (auto& cells : table) cells.resize(q);
    table[i - 1][j - 1] = number(row, "count");
  }
  return tables;
}

// Computed by independent code; vision, abstractors, Cohen 1968 and Fleiss-Cohen-Everitt 1969 also
// agree with what R packages irr, irrCAC and psych print.
TEST(PublishedTeaching, TwoRaterCoefficientsOfTenTables) {
  Tally tally("two raters");
  const auto tables = two_rater_tables();
  for (const auto& row : read_csv("two_rater_expected.csv")) {
    const std::string& name = row.at("table");
    const auto all = two_raters(tables.at(name));
    ASSERT_TRUE(all) << all.error().message;
    const auto check = [&](const char* column, double ours) {
      tally.near(name + " " + column, ours, number(row, column), 2e-6);
    };
    check("n", all->kappa.n);
    check("po", all->kappa.observed);
    check("pe", all->kappa.expected);
    check("kappa", all->kappa.kappa.value);
    check("se_nonnull", all->kappa.kappa.se);
    check("se_null", all->kappa.se_null);
    check("wkappa_linear", all->linear.kappa.value);
    check("wkappa_quadratic", all->quadratic.kappa.value);
    check("scott_pi", all->scott_pi.value);
    check("gwet_ac1", all->gwet_ac1.value);
    check("brennan_prediger", all->brennan_prediger.value);
  }
}

TEST(PublishedTeaching, WeightedKappaOfTwoPapers) {
  Tally tally("weighted kappa with given weights");
  auto tables = two_rater_tables();
  // Cohen 1968, values as the psych package's documentation quotes the paper: .492 and .348.
  const auto cohen = cohen_kappa(tables["cohen1968_200"],
                                 agreement_from_disagreement({{0, 1, 3}, {1, 0, 6}, {3, 6, 0}}));
  tally.near("Cohen 1968", cohen->kappa.value, 0.3478261, 1e-6);
  // Fleiss, Cohen & Everitt 1969; psych prints .51.
  const auto everitt = cohen_kappa(tables["fleiss_cohen_everitt1969_200"],
                                   {{1, 0, 0.4444}, {0, 1, 0.6667}, {0.4444, 0.6667, 1}});
  tally.near("Fleiss, Cohen & Everitt 1969", everitt->kappa.value, 0.50707, 1e-5);
  // Test statistic of the vision table, R package irr prints 84.6.
  const auto vision = cohen_kappa(tables["vision_7477"], unweighted(4));
  tally.near("vision z", vision->kappa.value / vision->se_null, 84.58, 0.01);
}

std::vector<RatedUnit> units_of(const std::string& file) {
  std::vector<RatedUnit> units;
  for (auto row : read_csv(file)) {
    row.erase("subject");
    RatedUnit unit;
    for (const auto& [category, count] : row) unit.counts.push_back(std::stod(count));
    units.push_back(unit);
  }
  return units;
}

// Fleiss 1971 as shipped with R package irr, which prints kappa 0.43 and z 17.7.
TEST(PublishedTeaching, FleissKappaOfThe1971Diagnoses) {
  Tally tally("Fleiss 1971");
  const auto units = units_of("fleiss1971_counts.csv");
  const auto detail = fleiss_detail(units);
  ASSERT_TRUE(detail);
  tally.near("observed", detail->observed, 0.5555556, 1e-7);
  tally.near("expected", detail->expected, 0.2199383, 1e-7);
  tally.near("kappa", detail->kappa, 0.4302445, 1e-7);
  tally.near("z", detail->z, 17.65183, 1e-5);
  // Columns come in alphabetical order: depression, neurosis, other, personality, schizophrenia.
  const double per_category[] = {0.244755, 0.471127, 0.566118, 0.244755, 0.520000};
  for (std::size_t k = 0; k < 5; ++k) {
    tally.near("category", detail->per_category[k], per_category[k], 1e-6);
  }
  tally.near("kappa with se", fleiss_kappa(units)->value, 0.4302445, 1e-7);
  tally.near("AC1", gwet_ac1(units)->value, 0.4478845, 1e-7);
  // The first 15 rows: overview of R package irrCAC.
  const std::vector<RatedUnit> first(units.begin(), units.begin() + 15);
  tally.near("15 rows kappa", fleiss_kappa(first)->value, 0.4139265, 1e-7);
  tally.near("15 rows AC1", gwet_ac1(first)->value, 0.4448007, 1e-7);
  tally.near("15 rows Brennan-Prediger", brennan_prediger(first)->value, 0.4388889, 1e-7);
  tally.near("15 rows observed", observed_agreement(first).value(), 0.5511111, 1e-7);
  // The well-known 14-rater example (from memory: 0.210).
  const auto fourteen = fleiss_detail(units_of("fleiss_14raters_counts.csv"));
  tally.near("14 raters observed", fourteen->observed, 0.378022, 1e-6);
  tally.near("14 raters expected", fourteen->expected, 0.2127551, 1e-7);
  tally.near("14 raters kappa", fourteen->kappa, 0.2099307, 1e-7);
}

Ratings ratings_of(const std::string& file, std::size_t num_units) {
  Ratings ratings;
  for (const auto& row : read_csv(file)) {
    std::vector<std::optional<double>> codes;
    for (std::size_t u = 1; u <= num_units; ++u) {
      const std::string& cell = row.at("u" + std::to_string(u));
      codes.push_back(cell.empty() ? std::nullopt : std::optional(std::stod(cell)));
    }
    ratings.push_back(codes);
  }
  return ratings;
}

// 4 x 12: R packages irr and irrCAC. 3 x 15: computed with irr; data from memory.
TEST(PublishedTeaching, KrippendorffAlphaWithGaps) {
  Tally tally("Krippendorff");
  const Metric metrics[] = {Metric::kNominal, Metric::kOrdinal, Metric::kInterval, Metric::kRatio};
  const double four[] = {0.743421, 0.815388, 0.849107, 0.797403};
  const double three[] = {0.691358, 0.806721, 0.810845, 0.808944};
  const auto a = ratings_of("krippendorff_4x12.csv", 12);
  const auto b = ratings_of("krippendorff_3x15.csv", 15);
  for (std::size_t m = 0; m < 4; ++m) {
    tally.near("4x12", krippendorff_alpha(a, metrics[m])->alpha.value, four[m], 1e-6);
    tally.near("3x15", krippendorff_alpha(b, metrics[m])->alpha.value, three[m], 1e-6);
  }
  tally.near("4x12 pairable", krippendorff_alpha(a, Metric::kNominal)->pairable_values, 40, 0);
  tally.near("3x15 pairable", krippendorff_alpha(b, Metric::kNominal)->pairable_values, 26, 0);
  const auto units = units_from_ratings(a);
  tally.near("4x12 observed", observed_agreement(units).value(), 0.8181818, 1e-7);
  tally.near("4x12 AC1", gwet_ac1(units)->value, 0.77544, 5e-6);
  tally.near("4x12 AC1 se", gwet_ac1(units)->se, 0.14295, 5e-6);
  tally.near("4x12 Fleiss", fleiss_kappa(units)->value, 0.76117, 5e-6);
  // irrCAC's copy of the data gives the lone rating of unit 12 to the third rater, not the second
  // (as irr has it); only Conger's kappa knows the difference.
  auto moved = a;
  std::swap(moved[1][11], moved[2][11]);
  tally.near("4x12 Conger", conger_kappa(moved)->value, 0.76282, 5e-6);
  tally.near("4x12 Brennan-Prediger", brennan_prediger(units)->value, 0.77273, 5e-6);
}

// Newcombe 1998 as remembered for the first rows; the rest by independent code.
TEST(PublishedTeaching, WilsonIntervals) {
  Tally tally("Wilson");
  for (const auto& row : read_csv("wilson_cases.csv")) {
    const double x = number(row, "x"), n = number(row, "n");
    const auto plain = proportion(x, n), corrected = proportion(x, n, true);
    tally.near(row.at("x") + "/" + row.at("n") + " low", plain->low, number(row, "wilson_lo"),
               1e-6);
    tally.near("high", plain->high, number(row, "wilson_hi"), 1e-6);
    tally.near("corrected low", corrected->low, number(row, "wilson_cc_lo"), 1e-6);
    tally.near("corrected high", corrected->high, number(row, "wilson_cc_hi"), 1e-6);
  }
}

// First row: statpsych signal(82, 46, 100, 100); the rest by independent code.
TEST(PublishedTeaching, SignalDetection) {
  Tally tally("d prime");
  for (const auto& row : read_csv("dprime_cases.csv")) {
    const DetectionCounts counts{number(row, "hits"), number(row, "signal_trials"),
                                 number(row, "false_alarms"), number(row, "noise_trials")};
    const auto d = detection(counts, row.at("loglinear") == "1");
    ASSERT_TRUE(d) << d.error().message;
    tally.near("hit rate", d->hit_rate, number(row, "H"), 1e-6);
    tally.near("false alarm rate", d->false_alarm_rate, number(row, "F"), 1e-6);
    tally.near("d'", d->d_prime.value, number(row, "dprime"), 2e-6);
    tally.near("c", d->criterion.value, number(row, "c"), 2e-6);
    tally.near("ln beta", d->log_beta.value, number(row, "ln_beta"), 2e-6);
    tally.near("area", d->area.value, number(row, "Az"), 2e-6);
  }
}

Table lsat(const std::string& column) {
  Table scores;
  for (const auto& row : read_csv("lsat6_lsat7_patterns.csv")) {
    std::vector<double> answers;
    for (int j = 1; j <= 5; ++j) answers.push_back(number(row, "i" + std::to_string(j)));
    for (int f = 0; f < number(row, column); ++f) scores.push_back(answers);
  }
  return scores;
}

void check_items(Tally& tally, const Table& scores, std::initializer_list<double> right,
                 std::initializer_list<double> total, std::initializer_list<double> rest,
                 std::initializer_list<double> dropped) {
  const auto items = analyse_items(scores);
  ASSERT_TRUE(items) << items.error().message;
  const double n = static_cast<double>(scores.size());
  for (std::size_t j = 0; j < items->size(); ++j) {
    const auto& item = (*items)[j];
    if (right.size()) tally.near("right", item.difficulty.value * n, right.begin()[j], 1e-6);
    if (total.size()) tally.near("item-total", item.item_total.value, total.begin()[j], 1e-6);
    tally.near("item-rest", item.item_rest.value, rest.begin()[j], 1e-6);
    if (dropped.size())
      tally.near("alpha if dropped", item.alpha_if_dropped, dropped.begin()[j], 1e-6);
  }
}

// LSAT sections 6 and 7 (1000 persons, 5 items): R package ltm.
TEST(PublishedTeaching, ReliabilityAndItemsOfTwoLawSchoolSections) {
  Tally tally("alpha and items");
  const Table six = lsat("lsat6_freq"), seven = lsat("lsat7_freq");
  const auto totals = [&](const char* name, const Table& scores, std::vector<double> expected,
                          double mean, double variance) {
    std::vector<double> seen(6, 0.0);
    double sum = 0.0, square = 0.0;
    for (const auto& row : scores) {
      const double total = row[0] + row[1] + row[2] + row[3] + row[4];
      seen[static_cast<std::size_t>(total)] += 1.0;
      sum += total / 1000.0;
      square += total * total / 1000.0;
    }
    for (std::size_t t = 0; t < 6; ++t) tally.near(name, seen[t], expected[t], 0);
    tally.near(name, sum, mean, 1e-9);
    tally.near(name, square - sum * sum, variance, 1e-6);
  };
  totals("LSAT-6 totals", six, {3, 20, 85, 237, 357, 298}, 3.819, 1.070239);
  totals("LSAT-7 totals", seven, {12, 40, 114, 205, 321, 308}, 3.707, 1.435151);
  tally.near("LSAT-6 alpha", cronbach_alpha(six)->value, 0.29499719, 1e-8);
  tally.near("LSAT-6 KR-20", kr20(six)->value, 0.29499719, 1e-8);
  check_items(tally, six, {924, 709, 553, 763, 870}, {.362010, .566772, .618440, .534418, .435366},
              {.112833, .153178, .172779, .144428, .121597},
              {.275356, .237584, .216800, .245933, .266294});
  tally.near("LSAT-7 alpha", cronbach_alpha(seven)->value, 0.45340874, 1e-8);
  check_items(tally, seven, {828, 658, 772, 606, 843},
              {.529988, .599677, .611210, .592029, .461192},
              {.245732, .246674, .313179, .222751, .174786}, {});
}

// Constructed; every figure by independent code.
TEST(PublishedTeaching, SmallKr20Example) {
  Tally tally("KR-20 small");
  Table scores;
  for (const auto& row : read_csv("kr20_small_example.csv")) {
    scores.emplace_back();
    for (int j = 1; j <= 5; ++j) scores.back().push_back(number(row, "i" + std::to_string(j)));
  }
  tally.near("KR-20", kr20(scores)->value, 0.7532051, 1e-7);
  tally.near("alpha", cronbach_alpha(scores)->value, 0.7532051, 1e-7);
  tally.near("KR-21", kr21(scores)->value, 0.6153846, 1e-7);
  tally.near("SEM", standard_error_of_measurement(scores)->value, 0.7756046, 1e-7);
  check_items(tally, scores, {7, 6, 4, 3, 2}, {}, {.519719, .707107, .625543, .367607, .436436},
              {.717087, .638889, .666667, .768769, .738095});
  tally.near("guessing", corrected_for_guessing(30, 10, 5), 27.5, 1e-12);
}

// Wald's bounds worked out with p0 = .60, p1 = .85, alpha = beta = .05.
TEST(PublishedTeaching, SequentialBounds) {
  Tally tally("sequential test");
  const auto made = SequentialTest::make({});
  tally.near("pass bound", made->pass_bound(), 2.944439, 1e-6);
  tally.near("fail bound", made->fail_bound(), -2.944439, 1e-6);
  tally.near("length at p0", made->expected_items(0.60), 14.45, 0.005);
  tally.near("length at p1", made->expected_items(0.85), 17.79, 0.005);
  tally.near("length at s", made->expected_items(0.737945), 25.38, 0.005);
  tally.near("pass chance at p0", made->pass_probability(0.60), 0.05, 1e-6);
  tally.near("pass chance at p1", made->pass_probability(0.85), 0.95, 1e-6);
  for (const auto& row : read_csv("sprt_p60_p85_a05_b05.csv")) {
    const int n = static_cast<int>(number(row, "n"));
    int least_pass = -1, most_fail = -1;
    for (int x = 0; x <= n; ++x) {
      // Bounds on counts alone: the evidence does not depend on the order of answers.
      const double s = x * std::log(.85 / .60) + (n - x) * std::log(.15 / .40);
      if (s >= made->pass_bound() - 1e-12 && least_pass < 0) least_pass = x;
      if (s <= made->fail_bound() + 1e-12) most_fail = x;
    }
    const auto expected = [&](const char* key) {
      return row.at(key).empty() ? -1.0 : number(row, key);
    };
    tally.near("least pass", least_pass, expected("min_correct_for_mastery"), 0);
    tally.near("most fail", most_fail, expected("max_correct_for_nonmastery"), 0);
  }
  auto run = SequentialTest::make({}).value();
  for (const char answer : std::string("1110111111111")) run.record(answer == '1');
  tally.near("stops at 13", static_cast<double>(run.num_items()), 13, 0);
  tally.near("evidence there", run.evidence(), 3.1989, 1e-4);
  EXPECT_EQ(run.decision(), Mastery::kMastered);
  auto wrong = SequentialTest::make({}).value();
  for (int i = 0; i < 3; ++i) wrong.record(false);
  tally.near("three wrong", wrong.evidence(), -2.942488, 1e-6);
  EXPECT_EQ(wrong.decision(), Mastery::kUndecided);  // just short of the bound
  wrong.record(false);
  EXPECT_EQ(wrong.decision(), Mastery::kNotMastered);
}

TEST(PublishedTeaching, KnowledgeTracing) {
  Tally tally("knowledge tracing");
  const auto trace = trace_knowledge({}, {true, true, false, true, true, true});
  const double expected[] = {.726829, .938334, .724334, .937618, .988344, .997909};
  for (std::size_t i = 0; i < 6; ++i) tally.near("step", trace[i], expected[i], 1e-6);
}

// Constructed examples, worked by independent code.
TEST(PublishedTeaching, StandardSetting) {
  Tally tally("standard setting");
  Table chance;
  for (const auto& row : read_csv("angoff_example.csv")) {
    chance.emplace_back();
    for (int j = 1; j <= 6; ++j) chance.back().push_back(number(row, "item" + std::to_string(j)));
  }
  const auto angoff = angoff_cut(chance);
  ASSERT_TRUE(angoff);
  tally.near("Angoff cut", angoff->points.value, 4.1625, 1e-12);
  tally.near("Angoff share", angoff->share_of_maximum, 0.69375, 1e-12);
  tally.near("Angoff sd", angoff->sd_between_judges, 0.149304, 1e-6);
  tally.near("Angoff se", angoff->points.se, 0.074652, 1e-6);
  std::vector<Candidate> candidates;
  for (const auto& row : read_csv("borderline_regression_example.csv")) {
    candidates.push_back({number(row, "global_rating_1to5"), number(row, "checklist_0to20")});
  }
  const auto fit = borderline_regression(candidates, 2.0);
  ASSERT_TRUE(fit);
  tally.near("slope", fit->slope, 2.297927, 1e-6);
  tally.near("intercept", fit->intercept, 7.733161, 1e-6);
  tally.near("cut", fit->cut.value, 12.329016, 1e-6);
  tally.near("R squared", fit->r_squared, 0.924801, 1e-6);
  tally.near("residual sd", fit->residual_sd, 0.921922, 1e-6);
  tally.near("se at 2", fit->cut.se, 0.314780, 1e-6);
  int pass = 0;
  for (const Candidate& c : candidates) pass += c.checklist_points >= fit->cut.value ? 1 : 0;
  tally.near("passes", pass, 11, 0);
  tally.near("borderline group", borderline_group(candidates, 2.0)->mean.value, 12.0, 1e-12);
}

}  // namespace
}  // namespace phren::teaching
