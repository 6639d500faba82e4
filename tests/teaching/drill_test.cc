#include "teaching/drill/drill.h"

#include <gtest/gtest.h>

#include "base/files.h"

namespace phren::teaching {
namespace {

std::vector<Skill> all_skills() {
  return load_skills(data_directory() / "drill_skills.toml").value();
}

std::size_t index_of(const std::vector<Skill>& skills, const std::string& id) {
  for (std::size_t k = 0; k < skills.size(); ++k) {
    if (skills[k].id == id) return k;
  }
  ADD_FAILURE() << id;
  return 0;
}

TEST(MemoryModel, RecallIsNineTenthsAfterTheStability) {
  const MemoryModel model;
  for (const double s : {0.3, 2.0, 50.0}) {
    EXPECT_NEAR(model.recall_probability({s, 5.0}, s), 0.9, 1e-12);
    EXPECT_DOUBLE_EQ(model.recall_probability({s, 5.0}, 0.0), 1.0);
  }
}

TEST(MemoryModel, RecallFallsWithTimeAndALapseNeverRaisesStability) {
  const MemoryModel model;
  const Memory memory{10.0, 6.0};
  double last = 1.0;
  for (double t = 1.0; t < 200.0; t *= 2.0) {
    const double recall = model.recall_probability(memory, t);
    EXPECT_LT(recall, last);
    last = recall;
    EXPECT_LE(model.after(memory, Grade::kAgain, t).stability_days, memory.stability_days);
    EXPECT_GE(model.after(memory, Grade::kGood, t).stability_days, memory.stability_days);
  }
}

TEST(Skills, FileIsReadInTheOrderOfFirstMeeting) {
  const auto skills = all_skills();
  ASSERT_GE(skills.size(), 10u);
  EXPECT_EQ(skills.front().id, "normal");
  for (std::size_t k = 0; k < skills.size(); ++k) {
    for (const std::size_t other : skills[k].confusable) EXPECT_NE(other, k);
  }
}

TEST(Skills, UnknownConfusableIsNamedWithTheNearest) {
  const auto wrong = parse_skills(
      "[[skill]]\nid='wheeze'\nlabel='w'\nfamily='m'\norder=1\nconfusable=['rhonchs']\n"
      "[[skill]]\nid='rhonchus'\nlabel='r'\nfamily='m'\norder=2\n",
      "skills.toml");
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().message,
            "skills.toml: skill wheeze: confusable 'rhonchs' must be another skill of this "
            "file. Did you mean 'rhonchus'?");
}

TEST(Drill, StartsANewClassInABlockThenGoesOn) {
  auto drill = Drill::make(all_skills(), {}, Seed{1}).value();
  std::vector<std::size_t> order;
  for (int i = 0; i < 9; ++i) {
    const DrillItem item = drill.next(i * 0.0003);
    order.push_back(item.skill);
    drill.answer({item.skill, item.skill, i * 0.0003});
  }
  EXPECT_EQ(order, (std::vector<std::size_t>{0, 0, 0, 1, 1, 1, 2, 2, 2}));
}

TEST(Drill, NeverPlaysTheSameVariantTwice) {
  auto drill = Drill::make(all_skills(), {}, Seed{2}).value();
  RandomStream random(Seed{3}, "answers");
  std::vector<std::size_t> next_variant(drill.skills().size(), 0);
  for (int i = 0; i < 400; ++i) {
    const double now = i / 20 + (i % 20) * 0.0003;
    const DrillItem item = drill.next(now);
    EXPECT_EQ(item.variant, next_variant[item.skill]++);
    const bool right = random.chance(0.7);
    const auto& alike = drill.skills()[item.skill].confusable;
    drill.answer({item.skill, right || alike.empty() ? item.skill : alike.front(), now});
  }
}

TEST(Drill, AConfusionIsFollowedByItsPartnerAndTheMissedSound) {
  DrillSettings settings;
  settings.contrast_share = 1.0;
  settings.schedule = DrillSchedule::kMixed;
  auto drill = Drill::make(all_skills(), settings, Seed{4}).value();
  const std::size_t wheeze = index_of(drill.skills(), "wheeze");
  const std::size_t rhonchus = index_of(drill.skills(), "rhonchus");
  drill.answer({wheeze, wheeze, 0.0});
  drill.answer({rhonchus, wheeze, 0.001});
  EXPECT_EQ(drill.next(0.002).skill, wheeze);
  drill.answer({wheeze, wheeze, 0.002});
  const DrillItem again = drill.next(0.003);
  EXPECT_EQ(again.skill, rhonchus);
  EXPECT_EQ(again.reason, DrillReason::kContrast);
}

TEST(Drill, PrefersWhatIsConfusedAndWhatIsForgotten) {
  DrillSettings settings;
  settings.contrast_share = 0.0;
  auto drill = Drill::make(all_skills(), settings, Seed{5}).value();
  const std::size_t n = drill.skills().size();
  for (int round = 0; round < 10; ++round) {
    for (std::size_t k = 0; k < n; ++k) {
      drill.answer({k, k == 3 && round % 2 == 0 ? 2 : k, round * 0.01 + 0.0003 * double(k)});
    }
  }
  EXPECT_EQ(drill.next(0.2).skill, 3u);
  EXPECT_EQ(drill.next(0.2).reason, DrillReason::kConfusion);
  EXPECT_EQ(drill.confusions(3, 2), 5u);
  EXPECT_FALSE(drill.mastered(3));
  EXPECT_TRUE(drill.mastered(4));
}

TEST(Drill, SameSeedAndAnswersGiveTheSameItems) {
  const auto run = [](std::uint64_t seed) {
    auto drill = Drill::make(all_skills(), {}, Seed{seed}).value();
    RandomStream random(Seed{9}, "answers");
    std::vector<std::size_t> order;
    for (int i = 0; i < 200; ++i) {
      const DrillItem item = drill.next(i * 0.01);
      order.push_back(item.skill);
      drill.answer({item.skill, random.chance(0.6) ? item.skill : 0, i * 0.01});
    }
    return order;
  };
  EXPECT_EQ(run(7), run(7));
  EXPECT_NE(run(7), run(8));
}

TEST(Drill, RefusesSettingsByName) {
  DrillSettings settings;
  settings.wanted_recall = 1.2;
  const auto wrong = Drill::make(all_skills(), settings, Seed{1});
  EXPECT_EQ(wrong.error().message, "wanted_recall is 1.2; it must be between 0.5 and 0.99");
  EXPECT_FALSE(Drill::make({}, {}, Seed{1}));
}

}  // namespace
}  // namespace phren::teaching
