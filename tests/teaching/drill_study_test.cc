// Does choosing what to practise save practice? Seeded studies on simulated learners and examinees.
#include <gtest/gtest.h>

#include <cstdio>
#include <functional>

#include "base/files.h"
#include "simulated_learner.h"
#include "teaching/drill/drill.h"
#include "teaching/statistics/adaptive_test.h"
#include "teaching/statistics/estimate.h"
#include "teaching/statistics/sparse_calibration.h"

namespace phren::teaching {
namespace {

constexpr std::uint64_t kSeed = 20261125;
constexpr int kPlaysPerDay = 20;
constexpr double kPlay_days = 20.0 / 86400.0;  // one play and its feedback
constexpr int kLimit = 4000;

using Chooser = std::function<std::size_t(double time_days)>;
using Told = std::function<void(std::size_t skill, std::size_t answered, double time_days)>;

// Plays until every class would still be named right with 85 % a day later.
int plays_to_mastery(SimulatedLearner& learner, std::size_t num_skills, const Chooser& choose,
                     const Told& tell) {
  for (int play = 0; play < kLimit; ++play) {
    const double now = play / kPlaysPerDay + (play % kPlaysPerDay) * kPlay_days;
    bool mastered = true;
    for (std::size_t k = 0; k < num_skills && mastered; ++k) {
      mastered = learner.share_right(k, now + 1.0) >= 0.85;
    }
    if (mastered) return play;
    const std::size_t skill = choose(now);
    tell(skill, learner.hear(skill, now), now);
  }
  return kLimit;
}

int with_drill(const std::vector<Skill>& skills, Seed seed, DrillSchedule schedule) {
  SimulatedLearner learner(skills, seed);
  DrillSettings settings;
  settings.schedule = schedule;
  auto drill = Drill::make(skills, settings, seed).value();
  return plays_to_mastery(
      learner, skills.size(), [&](double now) { return drill.next(now).skill; },
      [&](std::size_t skill, std::size_t answered, double now) {
        drill.answer({skill, answered, now});
      });
}

int with_random(const std::vector<Skill>& skills, Seed seed) {
  SimulatedLearner learner(skills, seed);
  RandomStream random(seed, "random practice");
  return plays_to_mastery(
      learner, skills.size(),
      [&](double) { return random.below(static_cast<std::uint32_t>(skills.size())); },
      [](std::size_t, std::size_t, double) {});
}

int with_fixed_spacing(const std::vector<Skill>& skills, Seed seed) {
  SimulatedLearner learner(skills, seed);
  std::size_t turn = 0;
  return plays_to_mastery(
      learner, skills.size(), [&](double) { return turn++ % skills.size(); },
      [](std::size_t, std::size_t, double) {});
}

Estimate mean_of(const std::vector<double>& x) {
  double sum = 0.0, squares = 0.0;
  const double n = static_cast<double>(x.size());
  for (const double v : x) sum += v;
  for (const double v : x) squares += (v - sum / n) * (v - sum / n);
  return student_estimate(sum / n, std::sqrt(squares / (n - 1.0) / n), n - 1.0);
}

void print(const char* what, const Estimate& e) {
  std::printf("STUDY %s: %.1f (95 %% %.1f to %.1f)\n", what, e.value, e.low, e.high);
}

TEST(DrillStudySlow, MasteryTakesFewerPlaysThanRandomOrFixedSpacing) {
  constexpr int kLearners = 300;
  const auto skills = load_skills(data_directory() / "drill_skills.toml").value();
  std::vector<double> drill, random, fixed, less_random, less_fixed;
  for (int i = 0; i < kLearners; ++i) {
    const Seed seed{kSeed + static_cast<std::uint64_t>(i)};
    drill.push_back(with_drill(skills, seed, DrillSchedule::kBlockedThenMixed));
    random.push_back(with_random(skills, seed));
    fixed.push_back(with_fixed_spacing(skills, seed));
    less_random.push_back(random.back() - drill.back());
    less_fixed.push_back(fixed.back() - drill.back());
  }
  std::printf("STUDY %d simulated learners, seed %llu\n", kLearners,
              static_cast<unsigned long long>(kSeed));
  print("plays to mastery, drill", mean_of(drill));
  print("plays to mastery, random", mean_of(random));
  print("plays to mastery, fixed spacing", mean_of(fixed));
  print("fewer than random", mean_of(less_random));
  print("fewer than fixed spacing", mean_of(less_fixed));
  EXPECT_GT(mean_of(less_random).low, 0.0);
  EXPECT_GT(mean_of(less_fixed).low, 0.0);
}

// A learner who is equally bad at everything and confuses nothing in particular: choice can save
// little there, and must not cost much.
TEST(DrillStudySlow, ChoiceCostsLittleWhenAllClassesAreAlike) {
  std::vector<Skill> skills;
  for (int k = 0; k < 8; ++k) {
    Skill skill;
    skill.id = "s" + std::to_string(k);
    skill.label = "s";
    skill.family = "f";
    skills.push_back(std::move(skill));
  }
  std::vector<double> excess;
  for (int i = 0; i < 150; ++i) {
    const Seed seed{kSeed + static_cast<std::uint64_t>(i)};
    excess.push_back(with_drill(skills, seed, DrillSchedule::kMixed) -
                     with_fixed_spacing(skills, seed));
  }
  print("extra plays of the drill over fixed spacing, classes alike", mean_of(excess));
  EXPECT_LT(mean_of(excess).value, 10.0);
}

struct Lengths {
  int adaptive = 0, fixed = 0, best_fixed = 0;
};

// Items of a form in its printed order until the target is reached.
int fixed_length(const std::vector<Item>& form, const std::vector<bool>& right,
                 const AdaptiveConfig& config) {
  Responses given;
  while (given.size() < form.size()) {
    given.push_back({form[given.size()], right[given.size()]});
    if (given.size() >= config.min_items && ability_eap(given).se <= config.target_se) break;
  }
  return static_cast<int>(given.size());
}

// The best one form for everybody: items by the information they give on average over N(0, 1).
std::vector<Item> best_form(std::vector<Item> bank) {
  const auto mean_information = [](const Item& item) {
    double sum = 0.0;
    for (double z = -4.0; z <= 4.0; z += 0.1) sum += normal_density(z) * information(item, z);
    return sum;
  };
  std::sort(bank.begin(), bank.end(), [&](const Item& a, const Item& b) {
    return mean_information(a) > mean_information(b);
  });
  return bank;
}

Lengths lengths_for(const std::vector<Item>& bank, const std::vector<Item>& best, double ability,
                    Seed seed) {
  Lengths lengths;
  RandomStream random(seed, "examinee");
  const auto answers = [&](const std::vector<Item>& items) {
    std::vector<bool> right;
    for (const Item& item : items) right.push_back(random.chance(probability_right(item, ability)));
    return right;
  };
  AdaptiveConfig config;
  config.max_items = bank.size();
  const auto right = answers(bank);
  auto test = AdaptiveTest::make(bank, config, seed).value();
  while (const auto item = test.next()) test.answer(*item, right[*item]);
  lengths.adaptive = static_cast<int>(test.responses().size());
  lengths.fixed = fixed_length(bank, right, config);
  lengths.best_fixed = fixed_length(best, answers(best), config);
  return lengths;
}

TEST(DrillStudySlow, AdaptiveTestReachesItsPrecisionInFewerItemsThanAFixedForm) {
  constexpr int kExaminees = 300;
  RandomStream random(Seed{kSeed}, "item bank");
  std::vector<Item> bank;
  for (int i = 0; i < 300; ++i) {
    bank.push_back({random.log_normal(1.2, 0.3), random.normal(0.0, 1.2)});
  }
  const auto best = best_form(bank);
  std::vector<double> adaptive, fixed, best_fixed, saved, saved_best;
  for (int i = 0; i < kExaminees; ++i) {
    const auto n =
        lengths_for(bank, best, random.normal(), Seed{kSeed + static_cast<std::uint64_t>(i)});
    adaptive.push_back(n.adaptive);
    fixed.push_back(n.fixed);
    best_fixed.push_back(n.best_fixed);
    saved.push_back(n.fixed - n.adaptive);
    saved_best.push_back(n.best_fixed - n.adaptive);
  }
  std::printf("STUDY %d examinees, bank of 300, stop at standard error 0.30, seed %llu\n",
              kExaminees, static_cast<unsigned long long>(kSeed));
  print("items, adaptive", mean_of(adaptive));
  print("items, fixed form in random order", mean_of(fixed));
  print("items, best single form", mean_of(best_fixed));
  print("items saved over the random form", mean_of(saved));
  print("items saved over the best form", mean_of(saved_best));
  EXPECT_GT(mean_of(saved).low, 0.0);
  EXPECT_GT(mean_of(saved_best).low, 0.0);
}

// The bank of the ability test: kinds of question with their guessing shares, each asked at most
// six times. The test believes `bank`; examinees answer by the true difficulties.
struct Taken {
  std::vector<double> lengths, squared_errors;
  int held = 0, precise = 0;
};

Taken take_tests(const std::vector<Item>& bank, const std::vector<Item>& truth, Seed seed) {
  constexpr int kExaminees = 300;
  Taken taken;
  RandomStream random(seed, "examinees");
  for (int i = 0; i < kExaminees; ++i) {
    const double ability = random.normal();
    AdaptiveConfig config;
    config.random_best = 5;
    config.max_items = 80;
    std::vector<Item> items;
    for (int copy = 0; copy < 6; ++copy) items.insert(items.end(), bank.begin(), bank.end());
    auto test = AdaptiveTest::make(items, config, Seed{random.bits()}).value();
    while (const auto item = test.next()) {
      test.answer(*item, random.chance(probability_right(truth[*item % truth.size()], ability)));
    }
    const Estimate found = test.ability();
    taken.lengths.push_back(static_cast<double>(test.responses().size()));
    taken.squared_errors.push_back((found.value - ability) * (found.value - ability));
    taken.held += found.low <= ability && ability <= found.high ? 1 : 0;
    taken.precise += test.stop_reason() == StopReason::kPrecise ? 1 : 0;
  }
  return taken;
}

// What a class of 40 leaves behind after some weeks of practice: two to twelve answers to each
// kind.
std::vector<Item> measured_bank(const std::vector<Item>& truth, Seed seed) {
  RandomStream random(seed, "class");
  std::vector<AnswerCount> counts;
  for (std::size_t person = 0; person < 40; ++person) {
    const double ability = random.normal();
    for (std::size_t k = 0; k < truth.size(); ++k) {
      AnswerCount one{person, k, 2.0 + random.below(11), 0.0};
      for (int i = 0; i < static_cast<int>(one.answers); ++i) {
        one.right += random.chance(probability_right(truth[k], ability)) ? 1.0 : 0.0;
      }
      counts.push_back(one);
    }
  }
  std::vector<ItemPrior> priors;
  for (const Item& item : truth) priors.push_back({item.guess, 0.0, 1.0});
  std::vector<Item> bank;
  const auto fit = calibrate_sparse(counts, priors).value();
  for (const SparseDifficulty& one : fit) {
    const double guess = truth[bank.size()].guess;
    bank.push_back(item_of_uncertain_difficulty(one.difficulty.value, one.difficulty.se, guess));
  }
  return bank;
}

TEST(DrillStudySlow, AbilityTestWithMeasuredAndWithAssumedDifficulties) {
  RandomStream random(Seed{kSeed}, "kinds");
  std::vector<Item> truth;
  // 11 to name, 7 to place in the breath, 3 on a side, 11 to compare: as many choices as in the
  // drill.
  for (const auto& [kinds, choices] : {std::pair{11, 11.0}, {7, 3.0}, {3, 2.0}, {11, 2.0}}) {
    for (int k = 0; k < kinds; ++k) truth.push_back({1.0, random.normal(), 1.0 / choices});
  }
  std::vector<Item> assumed;
  for (const Item& one : truth) assumed.push_back(item_of_uncertain_difficulty(0, 1, one.guess));
  const auto report = [](const char* name, const Taken& taken) {
    const auto n = static_cast<int>(taken.lengths.size());
    print(name, mean_of(taken.lengths));
    std::printf(
        "  se <= 0.3 reached by %d of %d; interval held the ability in %d; rms error %.2f\n",
        taken.precise, n, taken.held, std::sqrt(mean_of(taken.squared_errors).value));
  };
  const Taken by_measured = take_tests(measured_bank(truth, Seed{kSeed}), truth, Seed{kSeed + 1});
  const Taken by_assumed = take_tests(assumed, truth, Seed{kSeed + 1});
  report("questions, difficulties measured", by_measured);
  report("questions, difficulties assumed", by_assumed);
  EXPECT_GT(by_measured.held, 270);
  EXPECT_GT(by_assumed.held, 255);
  // Both stop at the same precision; measured difficulties get there more often and sooner.
  EXPECT_GT(by_measured.precise, by_assumed.precise);
  EXPECT_LT(mean_of(by_measured.lengths).high, mean_of(by_assumed.lengths).low);
}

}  // namespace
}  // namespace phren::teaching
