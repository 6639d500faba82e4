// Questions about what a sound means: fair, sourced, and answered as the literature would.
#include "teaching/drill/meaning.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "base/files.h"
#include "reasoning/weigh.h"

namespace phren::teaching {
namespace {

const reasoning::Knowledge& knowledge() {
  static const auto loaded = reasoning::Knowledge::load(data_directory()).value();
  return loaded;
}

bool offers(const MeaningTask& task, const std::string& id) {
  return std::any_of(task.choices.begin(), task.choices.end(),
                     [&](const MeaningChoice& one) { return one.id == id; });
}

std::string kind_of(const std::vector<MeaningTask>& tasks) {
  std::set<std::string> truths;
  for (const auto& one : tasks) truths.insert(one.truth);
  return truths.size() == 1 ? *truths.begin() : "several";
}

std::vector<MeaningTask> weigh_tasks(const std::string& finding, int n) {
  std::vector<MeaningTask> tasks;
  for (int i = 1; i <= n; ++i) {
    auto task = weigh_task(knowledge(), finding, Seed{static_cast<std::uint64_t>(i)});
    EXPECT_TRUE(task) << finding << ": " << (task ? "" : task.error().message);
    if (task) tasks.push_back(std::move(*task));
  }
  return tasks;
}

// Textbook associations (common practice; the figures behind them are in data/evidence).
TEST(Meaning, SoundsSpeakForWhatTextbooksSay) {
  EXPECT_EQ(kind_of(weigh_tasks("bronchial_breathing", 8)), "lobar_pneumonia");
  EXPECT_EQ(kind_of(weigh_tasks("barking_cough", 8)), "croup");
}

TEST(Meaning, FourDifferentChoicesOneRightWithItsSource) {
  for (const char* finding : {"wheeze", "stridor", "bronchial_breathing", "fine_crackles"}) {
    for (const auto& task : weigh_tasks(finding, 20)) {
      std::set<std::string> ids;
      for (const auto& one : task.choices) ids.insert(one.id);
      EXPECT_EQ(ids.size(), 4u) << finding;
      EXPECT_TRUE(offers(task, task.truth)) << finding;
      EXPECT_NE(task.explanation.find("odds × "), std::string::npos) << finding;
    }
  }
}

// Weighed again from the outside: no other choice comes within a factor of two of the right one.
TEST(Meaning, TheRightAnswerStandsOut) {
  exam::Examination patient;
  patient.setting = "ems_adult";
  patient.age_years = 50.0;
  exam::Finding finding;
  finding.id = "bronchial_breathing";
  finding.presence = exam::Presence::kPresent;
  patient.findings.push_back(finding);
  const auto with = reasoning::weigh(patient, knowledge()).value();
  patient.findings.clear();
  const auto without = reasoning::weigh(patient, knowledge()).value();
  const auto rise = [&](const std::string& id) {
    double odds = 0.0;
    for (const auto& one : with.ranking) odds += one.id == id ? one.log_odds : 0.0;
    for (const auto& one : without.ranking) odds -= one.id == id ? one.log_odds : 0.0;
    return odds;
  };
  for (const auto& task : weigh_tasks("bronchial_breathing", 10)) {
    for (const auto& one : task.choices) {
      if (one.id == task.truth) continue;
      EXPECT_GE(rise(task.truth), rise(one.id) + std::log(2.0) - 1e-9) << one.id;
    }
  }
}

TEST(Meaning, PlaceInTheListTellsNothing) {
  std::array<int, 4> places{};
  for (const auto& task : weigh_tasks("wheeze", 200)) {
    for (std::size_t k = 0; k < 4; ++k) places[k] += task.choices[k].id == task.truth ? 1 : 0;
  }
  for (const int count : places) EXPECT_NEAR(count, 50, 25);  // 4 sd of 200 draws at 1/4
}

TEST(Meaning, TheThreatIsNamedAndTheOthersAreNot) {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto task = threat_task(knowledge(), "stridor", Seed{seed});
    ASSERT_TRUE(task) << task.error().message;
    EXPECT_EQ(task->choices.size(), 4u);
    EXPECT_TRUE(offers(*task, task->truth));
    EXPECT_TRUE(task->truth == "airway" || task->truth == "anaphylaxis") << task->truth;
    EXPECT_EQ(task->story.find("stridor"), std::string::npos);
    EXPECT_NE(task->explanation.find("; rule is our choice"), std::string::npos);
  }
}

// A figure from memory says so beside its source, one read at its source does not: the weighing's
// own standing of each figure is the judge.
TEST(Meaning, FiguresFromMemorySaySo) {
  std::size_t num_from_memory = 0, num_read = 0;
  for (const char* id : {"wheeze", "fine_crackles", "bronchial_breathing", "rhonchi"}) {
    exam::Examination patient;
    patient.setting = "ems_adult";
    patient.age_years = 50.0;
    exam::Finding finding;
    finding.id = id;
    finding.presence = exam::Presence::kPresent;
    patient.findings = {finding};
    const auto impression = reasoning::weigh(patient, knowledge()).value();
    for (const auto& task : weigh_tasks(id, 20)) {
      for (const auto& ranked : impression.ranking) {
        for (const auto& part : ranked.contributions) {
          if (part.finding_id != id || part.standing == reasoning::Standing::kEngineering) continue;
          const std::string told = " (" + part.source;
          const auto at = task.explanation.find(ranked.label + ": odds");
          if (at == std::string::npos) continue;
          const bool is_marked =
              task.explanation.find(told + ", from memory).", at) != std::string::npos;
          const bool is_plain = task.explanation.find(told + ").", at) != std::string::npos;
          const bool is_memory = part.standing == reasoning::Standing::kMemory;
          EXPECT_TRUE(is_memory ? is_marked : is_plain) << id << ": " << task.explanation;
          num_from_memory += is_memory ? 1 : 0;
          num_read += is_memory ? 0 : 1;
        }
      }
    }
  }
  EXPECT_GT(num_from_memory, 0u);
  EXPECT_GT(num_read, 0u);
}

TEST(Meaning, SameSeedSameQuestion) {
  const auto a = threat_task(knowledge(), "wheeze", Seed{9}).value();
  const auto b = threat_task(knowledge(), "wheeze", Seed{9}).value();
  EXPECT_EQ(a.story + a.truth + a.choices[0].id, b.story + b.truth + b.choices[0].id);
}

TEST(Meaning, RefusesWhatItCannotAskFairly) {
  EXPECT_EQ(weigh_task(knowledge(), "no_such_thing", Seed{1}).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(threat_task(knowledge(), "squawk", Seed{1}).error().code, ErrorCode::kUnsupported);
}

}  // namespace
}  // namespace phren::teaching
