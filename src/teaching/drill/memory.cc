#include "teaching/drill/memory.h"

#include <algorithm>
#include <cmath>

namespace phren::teaching {
namespace {

constexpr double kLeastStability_days = 0.001;
constexpr std::array<double, 2> kLearningSteps_min{1.0, 10.0};
constexpr std::array<double, 1> kRelearningSteps_min{10.0};
constexpr double kMinutesPerDay = 1440.0;

double number_of(Grade grade) {
  return static_cast<double>(grade);
}

// Minutes until the next look while still in the short steps; negative = the steps are done.
template <std::size_t N>
double next_step_min(const std::array<double, N>& steps, std::size_t& step, Grade grade) {
  if (grade == Grade::kEasy) return -1.0;
  if (grade == Grade::kAgain) {
    step = 0;
    return steps[0];
  }
  if (step >= N) return -1.0;
  if (grade == Grade::kHard) {
    if (step > 0) return steps[step];
    return N == 1 ? 1.5 * steps[0] : (steps[0] + steps[N > 1 ? 1 : 0]) / 2.0;
  }
  if (step + 1 == N) return -1.0;
  return steps[++step];
}

}  // namespace

MemoryModel::MemoryModel(const MemoryWeights& weights)
    : weights_(weights), decay_(-weights.w[20]), factor_(std::pow(0.9, 1.0 / decay_) - 1.0) {}

double MemoryModel::recall_probability(const Memory& memory, double elapsed_days) const {
  if (memory.stability_days <= 0.0) return 0.0;
  return std::pow(1.0 + factor_ * std::max(0.0, elapsed_days) / memory.stability_days, decay_);
}

double MemoryModel::initial_difficulty(Grade grade) const {
  return weights_.w[4] - std::exp(weights_.w[5] * (number_of(grade) - 1.0)) + 1.0;
}

Memory MemoryModel::first(Grade grade) const {
  const double s = weights_.w[static_cast<std::size_t>(grade) - 1];
  return {std::max(s, kLeastStability_days), std::clamp(initial_difficulty(grade), 1.0, 10.0)};
}

double MemoryModel::next_difficulty(double difficulty, Grade grade) const {
  const double change = -weights_.w[6] * (number_of(grade) - 3.0);
  const double damped = difficulty + change * (10.0 - difficulty) / 9.0;
  const double target = initial_difficulty(Grade::kEasy);
  return std::clamp(weights_.w[7] * target + (1.0 - weights_.w[7]) * damped, 1.0, 10.0);
}

double MemoryModel::same_day_stability(double stability, Grade grade) const {
  const auto& w = weights_.w;
  double growth = std::exp(w[17] * (number_of(grade) - 3.0 + w[18])) * std::pow(stability, -w[19]);
  if (grade == Grade::kGood || grade == Grade::kEasy) growth = std::max(growth, 1.0);
  return stability * growth;
}

double MemoryModel::recalled_stability(const Memory& memory, double recall, Grade grade) const {
  const auto& w = weights_.w;
  double growth = std::exp(w[8]) * (11.0 - memory.difficulty) *
                  std::pow(memory.stability_days, -w[9]) * std::expm1(w[10] * (1.0 - recall));
  if (grade == Grade::kHard) growth *= w[15];
  if (grade == Grade::kEasy) growth *= w[16];
  return memory.stability_days * (1.0 + growth);
}

double MemoryModel::forgotten_stability(const Memory& memory, double recall) const {
  const auto& w = weights_.w;
  const double relearned = w[11] * std::pow(memory.difficulty, -w[12]) *
                           (std::pow(memory.stability_days + 1.0, w[13]) - 1.0) *
                           std::exp(w[14] * (1.0 - recall));
  return std::min(relearned, memory.stability_days / std::exp(w[17] * w[18]));
}

Memory MemoryModel::after(const Memory& memory, Grade grade, double elapsed_days) const {
  if (memory.stability_days <= 0.0) return first(grade);
  double stability = 0.0;
  if (elapsed_days < 1.0) {
    stability = same_day_stability(memory.stability_days, grade);
  } else {
    const double recall = recall_probability(memory, elapsed_days);
    stability = grade == Grade::kAgain ? forgotten_stability(memory, recall)
                                       : recalled_stability(memory, recall, grade);
  }
  return {std::max(stability, kLeastStability_days), next_difficulty(memory.difficulty, grade)};
}

double MemoryModel::gap_days(const Memory& memory, double wanted_recall) const {
  const double gap =
      memory.stability_days / factor_ * (std::pow(wanted_recall, 1.0 / decay_) - 1.0);
  return std::clamp(std::round(gap), 1.0, 36500.0);
}

ReviewPlan after_answer(const MemoryModel& model, const ReviewPlan& plan, Grade grade,
                        double elapsed_days, double wanted_recall) {
  using Phase = ReviewPlan::Phase;
  ReviewPlan next = plan;
  next.memory = model.after(plan.memory, grade, elapsed_days);
  double minutes = -1.0;
  if (plan.phase == Phase::kNew || plan.phase == Phase::kLearning) {
    next.phase = Phase::kLearning;
    minutes = next_step_min(kLearningSteps_min, next.step, grade);
  } else if (plan.phase == Phase::kRelearning || grade == Grade::kAgain) {
    if (plan.phase == Phase::kReview) next.step = 0;
    next.phase = Phase::kRelearning;
    minutes = next_step_min(kRelearningSteps_min, next.step, grade);
  }
  if (minutes >= 0.0) {
    next.due_in_days = minutes / kMinutesPerDay;
    return next;
  }
  next.phase = Phase::kReview;
  next.step = 0;
  next.due_in_days = model.gap_days(next.memory, wanted_recall);
  return next;
}

EasePlan after_answer(const EasePlan& plan, int grade_0_to_5, bool lower_ease_on_lapse) {
  EasePlan next = plan;
  const bool lapse = grade_0_to_5 < 3;
  if (lapse) {
    next.repetition = 0;
    next.gap_days = 1.0;
  } else {
    next.repetition = plan.repetition + 1;
    // The ease before this answer, rounded up; a hair is taken off so that 15.0 stays 15.
    next.gap_days = next.repetition == 1   ? 1.0
                    : next.repetition == 2 ? 6.0
                                           : std::ceil(plan.gap_days * plan.ease - 1e-9);
  }
  if (!lapse || lower_ease_on_lapse) {
    const double miss = 5.0 - grade_0_to_5;
    next.ease = std::max(1.3, plan.ease + 0.1 - miss * (0.08 + miss * 0.02));
  }
  return next;
}

}  // namespace phren::teaching
