// Memory model and the older ease rule against their published traces.
// Sources: tests/published/psychometrics/README.md.
#include <gtest/gtest.h>

#include "psychometrics_csv.h"
#include "teaching/drill/memory.h"

namespace phren::teaching {
namespace {

using published::number;
using published::read_csv;
using published::Tally;

// The upstream project's own test: all good six times, a lapse twice, good five times, each review
// exactly when it is due.
TEST(PublishedMemory, ScheduleOfThirteenReviews) {
  Tally tally("memory schedule");
  const MemoryModel model;
  ReviewPlan plan;
  for (const auto& row : read_csv("fsrs6_trace.csv")) {
    const auto grade = static_cast<Grade>(static_cast<int>(number(row, "rating")));
    plan = after_answer(model, plan, grade, plan.due_in_days);
    const std::string& state = row.at("state_after");
    const auto phase = state == "L"   ? ReviewPlan::Phase::kLearning
                       : state == "R" ? ReviewPlan::Phase::kRelearning
                                      : ReviewPlan::Phase::kReview;
    EXPECT_EQ(plan.phase, phase) << "review " << row.at("review");
    tally.near("stability", plan.memory.stability_days, number(row, "stability_after"), 1e-6);
    tally.near("difficulty", plan.memory.difficulty, number(row, "difficulty_after"), 1e-6);
    tally.near("gap", std::floor(plan.due_in_days), number(row, "interval_days"), 0);
  }
}

TEST(PublishedMemory, StateAfterSixReviews) {
  Tally tally("memory state");
  const MemoryModel model;
  Memory memory;
  for (const auto& row : read_csv("fsrs6_memory_state_trace.csv")) {
    const auto grade = static_cast<Grade>(static_cast<int>(number(row, "rating")));
    memory = model.after(memory, grade, number(row, "elapsed_days"));
    tally.near("stability", memory.stability_days, number(row, "stability_after"), 2e-6);
    tally.near("difficulty", memory.difficulty, number(row, "difficulty_after"), 1e-6);
    tally.near("gap", model.gap_days(memory), number(row, "interval_days_at_90pct"), 0);
  }
  // Printed by the upstream test for the last review.
  tally.near("upstream stability", memory.stability_days, 53.62691, 1e-4);
  tally.near("upstream difficulty", memory.difficulty, 6.3574867, 1e-4);
}

TEST(PublishedMemory, OlderEaseRuleInBothReadings) {
  Tally tally("ease rule");
  EasePlan plan;
  std::string variant;
  for (const auto& row : read_csv("sm2_trace.csv")) {
    if (row.at("variant") != variant) plan = {};
    variant = row.at("variant");
    plan = after_answer(plan, static_cast<int>(number(row, "grade")), variant == "update_always");
    tally.near("repetition", plan.repetition, number(row, "repetition"), 0);
    tally.near("gap", plan.gap_days, number(row, "interval_days"), 0);
    tally.near("ease", plan.ease, number(row, "ef_after"), 1e-9);
  }
}

}  // namespace
}  // namespace phren::teaching
