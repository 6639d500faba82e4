// When will this learner forget? The FSRS-6 memory model: stability and difficulty per skill.
//
// Units:   stability in days: after that long without practice the chance of recall is 0.9.
//          Difficulty 1 (easy) .. 10. Elapsed time in days; below one day counts as the same day.
// Errors:  none; elapsed times below zero count as zero.
// Source:  FSRS-6, open-spaced-repetition/py-fsrs (MIT), formulas and default weights as published
//          there; checked against that project's own test vectors in
//          tests/published/teaching_memory_test.cc.
// Limits:  the weights were fitted on other material, none of it chest sounds; upstream's random
//          spread of the gaps is left out, so the same answers give the same plan.
#pragma once

#include <array>
#include <cstddef>

namespace phren::teaching {

struct MemoryWeights {
  std::array<double, 21> w{0.212,  1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194,
                           0.001,  1.8722, 0.1666, 0.796,  1.4835, 0.0614, 0.2629,
                           1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542};
};

enum class Grade { kAgain = 1, kHard, kGood, kEasy };

struct Memory {
  double stability_days = 0.0;  // 0 = never practised
  double difficulty = 5.0;
};

class MemoryModel {
 public:
  explicit MemoryModel(const MemoryWeights& weights = {});

  double recall_probability(const Memory& memory, double elapsed_days) const;
  Memory first(Grade grade) const;
  Memory after(const Memory& memory, Grade grade, double elapsed_days) const;
  // Whole days until the chance of recall falls to `wanted_recall`, 1..36500.
  double gap_days(const Memory& memory, double wanted_recall = 0.9) const;

 private:
  double initial_difficulty(Grade grade) const;
  double next_difficulty(double difficulty, Grade grade) const;
  double same_day_stability(double stability, Grade grade) const;
  double recalled_stability(const Memory& memory, double recall, Grade grade) const;
  double forgotten_stability(const Memory& memory, double recall) const;

  MemoryWeights weights_;
  double decay_, factor_;
};

// The plan of one skill: short steps at first and after a lapse, then gaps of days.
struct ReviewPlan {
  enum class Phase { kNew, kLearning, kReview, kRelearning };
  Phase phase = Phase::kNew;
  std::size_t step = 0;
  Memory memory;
  double due_in_days = 0.0;  // from the last answer
};
ReviewPlan after_answer(const MemoryModel& model, const ReviewPlan& plan, Grade grade,
                        double elapsed_days, double wanted_recall = 0.9);

// An older rule, kept only to compare with: ease factor and multiplied gaps. Two readings of it are
// in use; they differ in whether a lapse lowers the ease.
struct EasePlan {
  int repetition = 0;
  double gap_days = 0.0;
  double ease = 2.5;
};
EasePlan after_answer(const EasePlan& plan, int grade_0_to_5, bool lower_ease_on_lapse);

}  // namespace phren::teaching
