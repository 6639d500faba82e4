// Drawn patients: from the id alone, within their limits, and every one a body that lives.
#include "teaching/draw/draw.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "base/files.h"
#include "bedside/words.h"
#include "patient/patient.h"

namespace phren::teaching {
namespace {

using ::testing::HasSubstr;

struct World {
  patient::Conditions conditions =
      patient::Conditions::load(data_directory() / "conditions").value();
  patient::Treatments treatments =
      patient::Treatments::load(data_directory() / "treatments").value();
  DrawData data = DrawData::load(data_directory(), conditions).value();
};

const World& world() {
  static const World w;
  return w;
}

Result<Case> drawn(const std::string& id) {
  const auto draw = parse_draw_id(id, world().data, world().conditions);
  if (!draw) return fail(draw.error());
  return draw_case(*draw, world().data, world().conditions);
}

std::string in_words(const Case& one) {
  std::string words = one.story + std::to_string(one.patient.person.weight_kg);
  for (const auto& use : one.patient.conditions) words += use.id + std::to_string(use.severity);
  return words;
}

TEST(Draw, TheIdGivesTheSamePatientAgainAndAnotherSeedAnother) {
  const auto first = drawn("surprise-advanced-4711"), again = drawn("surprise-advanced-4711");
  ASSERT_TRUE(first) << first.error().message;
  EXPECT_EQ(in_words(*first), in_words(*again));
  EXPECT_EQ(first->id, "surprise-advanced-4711");
  std::set<std::string> others;
  for (int seed = 0; seed < 200; ++seed) {
    others.insert(in_words(*drawn("surprise-advanced-" + std::to_string(seed))));
  }
  EXPECT_GT(others.size(), 190u);
}

TEST(Draw, LevelsKeepTheirConditionsSeverityAndRooms) {
  for (const DrawLevel& level : world().data.levels()) {
    std::set<std::string> seen;
    int with_two = 0;
    for (int seed = 0; seed < 500; ++seed) {
      SCOPED_TRACE(level.id + " " + std::to_string(seed));
      const auto one = drawn("surprise-" + level.id + "-" + std::to_string(seed));
      ASSERT_TRUE(one) << one.error().message;
      with_two += one->patient.conditions.size() == 2;
      const std::string room(word_of(one->room));
      EXPECT_THAT(level.rooms, ::testing::Contains(room));
      const auto& uses = one->patient.conditions;
      seen.insert(uses.empty() ? "healthy" : uses[0].id);
      for (const auto& use : uses) {
        EXPECT_GE(use.severity, level.severity_from - 0.006);
        EXPECT_LE(use.severity, level.severity_to + 0.006);
        const auto condition = world().conditions.find(use.id);
        EXPECT_GE(one->patient.person.age_years, condition->least_age_years);
        EXPECT_LE(one->patient.person.age_years, condition->most_age_years);
        EXPECT_EQ(use.side != exam::Side::kMidline, condition->needs_side);
      }
    }
    const std::size_t all =
        level.conditions.empty() ? world().conditions.all().size() : level.conditions.size();
    EXPECT_EQ(seen.size(), all) << level.id << ": every condition comes up";
    EXPECT_EQ(with_two > 0, level.second_chance > 0.0) << level.id;
  }
}

TEST(Draw, LimitsHoldForAgeBuildAndSeverity) {
  double slim = 0.0, heavy = 0.0;
  for (int seed = 0; seed < 200; ++seed) {
    const std::string end = "-s40_50-casthma-clobar_pneumonia-" + std::to_string(seed);
    for (const char* ages : {"a2_6", "a20_25", "a70_90"}) {
      const auto one = drawn(std::string("random-") + ages + "-bslim" + end);
      const auto other = drawn(std::string("random-") + ages + "-bheavy" + end);
      ASSERT_TRUE(one && other);
      const double age = one->patient.person.age_years;
      EXPECT_TRUE((age >= 2 && age <= 6) || (age >= 20 && age <= 25) || (age >= 70 && age <= 90));
      EXPECT_GE(one->patient.conditions[0].severity, 0.395);
      EXPECT_LE(one->patient.conditions[0].severity, 0.505);
      slim += one->patient.person.weight_kg;
      heavy += other->patient.person.weight_kg;
    }
  }
  EXPECT_GT(heavy, 1.25 * slim);
}

TEST(Draw, EveryDrawnBodyCanBeMade) {
  for (int seed = 0; seed < 60; ++seed) {
    for (const char* id : {"surprise-advanced-", "random-a0_3-bany-s10_95-n2-", "random-a0_110-"}) {
      SCOPED_TRACE(id + std::to_string(seed));
      const auto one = drawn(id + std::to_string(seed));
      ASSERT_TRUE(one) << one.error().message;
      const auto config = patient::configure(one->patient, world().conditions, world().treatments);
      ASSERT_TRUE(config) << config.error().message;
    }
  }
}

TEST(Draw, IdsComeBackFromTheirLimits) {
  for (const char* id : {"surprise-beginner-0", "random-a16_90-bany-s30_90-n1-77",
                         "random-a0_3-bslim-s10_20-n2-cbronchiolitis-ccroup-9007199254740992"}) {
    const auto draw = parse_draw_id(id, world().data, world().conditions);
    ASSERT_TRUE(draw) << draw.error().message;
    EXPECT_EQ(draw_id(*draw), id);
  }
}

TEST(Draw, EverySpellingOfADrawHasOneId) {
  const std::string id = "random-a16_90-bany-s30_90-n1-casthma-ccopd_exacerbation-77";
  for (const char* other :
       {"random-casthma-ccopd_exacerbation-77", "random-ccopd_exacerbation-casthma-077",
        "random-n1-casthma-ccopd_exacerbation-casthma-s30_90-0077"}) {
    const auto draw = parse_draw_id(other, world().data, world().conditions);
    ASSERT_TRUE(draw) << draw.error().message;
    EXPECT_EQ(draw_id(*draw), id) << other;
    EXPECT_EQ(in_words(*drawn(other)), in_words(*drawn(id))) << other;
  }
}

TEST(Draw, AWrongIdSaysWhatWouldBeRight) {
  for (const auto& [id, words] : {std::pair{"surprise-begginer-1", "beginner"},
                                  {"random-a90_16-1", "a16_90"},
                                  {"random-s30_900-1", "percentages"},
                                  {"random-casthmaa-1", "asthma"},
                                  {"random-x-1", "draw.md"},
                                  {"random-a1_2-ccardiogenic_oedema-1", "widen the ages"},
                                  {"random-bany-abc", "seed"}}) {
    const auto one = drawn(id);
    ASSERT_FALSE(one) << id;
    EXPECT_THAT(one.error().message, HasSubstr(words)) << id;
  }
}

TEST(Draw, FindCaseDrawsThem) {
  const auto one = find_case("surprise-beginner-77", data_directory());
  ASSERT_TRUE(one) << one.error().message;
  EXPECT_EQ(one->id, "surprise-beginner-77");
}

}  // namespace
}  // namespace phren::teaching
