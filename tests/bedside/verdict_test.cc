#include "bedside/verdict.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bedside/sick.h"

namespace phren::bedside {
namespace {

using exam::Finding;
using exam::Presence;
using exam::Side;
using exam::Sound;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

HeardAt place(const char* site_id, double below_health_db = 0.0) {
  HeardAt one;
  one.site_id = site_id;
  one.point = testing::site_map().find(site_id)->at;
  one.seconds = 8.0;
  one.is_breath_audible = below_health_db < kAbsent_db;
  one.level_db = -30.0 - below_health_db;
  one.below_health_db = below_health_db;
  one.loudness = loudness_of(below_health_db, one.is_breath_audible);
  one.out_over_in = 1.4;
  return one;
}

HeardAt with(HeardAt one, Sound sound, int audible = 20) {
  AddedSound added{sound, {}, {}};
  added.in = {20, audible, 0.2 * audible, audible > 0 ? 12.0 : -4.0};
  one.added.push_back(added);
  return one;
}

Finding mark(const char* id, Side side = Side::kMidline, std::vector<std::string> sites = {},
             Presence presence = Presence::kPresent) {
  Finding one;
  one.id = id;
  one.side = side;
  one.site_ids = std::move(sites);
  one.presence = presence;
  return one;
}

std::vector<HeardAt> quiet_right_side(double below_db = 38.0) {
  std::vector<HeardAt> all = {place("F5", below_db), place("F6"), place("P9", below_db),
                              place("P10")};
  compare_sides(all, testing::site_map());
  return all;
}

TEST(Verdict, DiminishedOnTheRightOfARightPneumothoraxIsRight) {
  const auto heard = quiet_right_side();
  for (const char* id :
       {"diminished_breath_sounds", "absent_breath_sounds", "diminished_one_sided"}) {
    const JudgedMark judged = judge_mark(mark(id, Side::kRight), heard);
    EXPECT_EQ(judged.verdict, MarkVerdict::kRight) << id << ": " << judged.reason;
    EXPECT_THAT(judged.reason, HasSubstr("F5 and P9"));
    EXPECT_EQ(judge_mark(mark(id, Side::kLeft), heard).verdict, MarkVerdict::kWrong) << id;
    EXPECT_EQ(judge_mark(mark(id, Side::kMidline, {"F5"}), heard).verdict, MarkVerdict::kRight)
        << id;
    EXPECT_EQ(judge_mark(mark(id, Side::kMidline, {"F6"}), heard).verdict, MarkVerdict::kWrong)
        << id;
  }
  EXPECT_EQ(judge_mark(mark("normal_breath_sounds", Side::kRight), heard).verdict,
            MarkVerdict::kWrong);
  EXPECT_EQ(judge_mark(mark("normal_breath_sounds", Side::kLeft), heard).verdict,
            MarkVerdict::kRight);
}

TEST(Verdict, DiminishedIsNotAbsentAndSofterThanTheOtherSideIsNearly) {
  EXPECT_EQ(judge_mark(mark("absent_breath_sounds", Side::kRight), quiet_right_side(14.0)).verdict,
            MarkVerdict::kNearly);
  std::vector<HeardAt> louder = {place("F5", 4.0), place("F6", -9.0)};
  compare_sides(louder, testing::site_map());
  EXPECT_EQ(judge_mark(mark("diminished_breath_sounds", Side::kRight), louder).verdict,
            MarkVerdict::kNearly);
  EXPECT_EQ(judge_mark(mark("diminished_one_sided", Side::kRight), louder).verdict,
            MarkVerdict::kRight);
}

TEST(Verdict, TheExactNameIsRightTheFamilyNearlyAndAnotherSoundWrong) {
  const std::vector<HeardAt> heard = {with(place("P9"), Sound::kFineCrackle), place("P10")};
  EXPECT_EQ(judge_mark(mark("fine_crackles", Side::kRight), heard).verdict, MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("crackles", Side::kRight), heard).verdict, MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("crackles_one_sided", Side::kRight), heard).verdict,
            MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("coarse_crackles", Side::kRight), heard).verdict, MarkVerdict::kNearly);
  EXPECT_EQ(judge_mark(mark("wheeze", Side::kRight), heard).verdict, MarkVerdict::kWrong);
  EXPECT_EQ(judge_mark(mark("fine_crackles", Side::kLeft), heard).verdict, MarkVerdict::kWrong);
  EXPECT_EQ(judge_mark(mark("wheeze", Side::kMidline, {}, Presence::kAbsent), heard).verdict,
            MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("fine_crackles", Side::kMidline, {}, Presence::kAbsent), heard).verdict,
            MarkVerdict::kWrong);
}

// A wheeze of the left lung that reaches the right: who names the left alone is right, who names the right alone nearly.
TEST(Verdict, ASoundThatIsCarriedOverBelongsToTheSideWhereItArises) {
  HeardAt across = with(place("F5", 30.0), Sound::kWheeze);
  across.added.front().carried_from = Side::kLeft;
  EXPECT_THAT(in_words(across), HasSubstr("absent"));
  EXPECT_THAT(in_words(across), HasSubstr("carried over from the left"));
  EXPECT_THAT(in_short(across), HasSubstr("(in, from the left)"));
  const std::vector<HeardAt> heard = {across, with(place("F6"), Sound::kWheeze)};
  EXPECT_EQ(judge_mark(mark("wheeze_one_sided", Side::kLeft), heard).verdict, MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("wheeze_one_sided", Side::kRight), heard).verdict,
            MarkVerdict::kNearly);
  EXPECT_EQ(judge_mark(mark("wheeze", Side::kRight), heard).verdict, MarkVerdict::kRight);
  const auto missed = missed_findings({}, heard);
  const auto wheeze = std::find_if(missed.begin(), missed.end(),
                                   [](const auto& one) { return one.finding_id == "wheeze"; });
  ASSERT_NE(wheeze, missed.end());
  EXPECT_EQ(wheeze->site_ids, std::vector<std::string>{"F6"});
}

TEST(Verdict, AMaskedSoundIsNearlyRight) {
  const std::vector<HeardAt> heard = {with(place("P9"), Sound::kFineCrackle, 0)};
  const JudgedMark judged = judge_mark(mark("fine_crackles", Side::kRight), heard);
  EXPECT_EQ(judged.verdict, MarkVerdict::kNearly);
  EXPECT_THAT(judged.reason, HasSubstr("masked"));
  EXPECT_THAT(missed_findings({}, heard), IsEmpty());
}

TEST(Verdict, WhereNobodyListenedOrListeningCannotTellIsNotJudged) {
  const auto heard = quiet_right_side();
  EXPECT_EQ(judge_mark(mark("wheeze", Side::kMidline, {"S3"}), heard).verdict,
            MarkVerdict::kNotJudged);
  EXPECT_EQ(judge_mark(mark("cyanosis"), heard).verdict, MarkVerdict::kNotJudged);
  EXPECT_EQ(judge_mark(mark("wheeze"), {}).verdict, MarkVerdict::kNotJudged);
  EXPECT_EQ(judge_mark(mark("wheeze", Side::kRight, {}, Presence::kUnknown), heard).verdict,
            MarkVerdict::kNotJudged);
}

TEST(Verdict, ASilentChestIsSilentEverywhere) {
  std::vector<HeardAt> silent = {place("F5", 30), place("F6", 31), place("P9", 35),
                                 place("P10", 28)};
  compare_sides(silent, testing::site_map());
  EXPECT_EQ(judge_mark(mark("silent_chest"), silent).verdict, MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("silent_chest"), quiet_right_side()).verdict, MarkVerdict::kNearly);
  EXPECT_EQ(judge_mark(mark("diminished_one_sided", Side::kMidline), silent).verdict,
            MarkVerdict::kNearly);
}

TEST(Verdict, ProlongedExpirationGoesByTheTimeBreathingOut) {
  HeardAt slow = place("F5");
  slow.out_over_in = 3.1;
  slow.is_prolonged = true;
  const std::vector<HeardAt> heard = {slow};
  EXPECT_EQ(judge_mark(mark("prolonged_expiration"), heard).verdict, MarkVerdict::kRight);
  EXPECT_EQ(judge_mark(mark("prolonged_expiration"), quiet_right_side()).verdict,
            MarkVerdict::kWrong);
}

TEST(Verdict, TellsWhatWasMissed) {
  auto heard = quiet_right_side();
  heard[1] = with(heard[1], Sound::kWheeze);
  const auto all = missed_findings({}, heard);
  ASSERT_EQ(all.size(), 2u);
  EXPECT_EQ(all[0].finding_id, "absent_breath_sounds");
  EXPECT_EQ(all[0].side, Side::kRight);
  EXPECT_EQ(all[0].site_ids, (std::vector<std::string>{"F5", "P9"}));
  EXPECT_EQ(all[1].finding_id, "wheeze");
  const std::vector<Finding> marks = {mark("rhonchi"),
                                      mark("diminished_breath_sounds", Side::kRight)};
  EXPECT_THAT(missed_findings(marks, heard), IsEmpty());
}

// Must hold for whatever a body gives: each place called soft, and marked so, gets "right".
TEST(VerdictSlow, EverySoftPlaceOfASickBodyBearsTheMark) {
  int soft = 0;
  for (const char* id : {"tension_pneumothorax", "pleural_effusion", "bronchial_foreign_body"}) {
    for (const HeardAt& one :
         testing::hear(id, 0.7, testing::ten_bodies()[4], {"F5", "F6", "P9", "P10"})) {
      const JudgedMark judged = judge_mark(
          mark("diminished_breath_sounds", Side::kMidline, {one.site_id}), std::span(&one, 1));
      EXPECT_NE(judged.verdict, MarkVerdict::kNotJudged);
      if (one.is_softer()) {
        ++soft;
        EXPECT_EQ(judged.verdict, MarkVerdict::kRight) << in_words(one);
      } else {
        EXPECT_NE(judged.verdict, MarkVerdict::kRight) << in_words(one);
      }
    }
  }
  EXPECT_GE(soft, 3);
}

}  // namespace
}  // namespace phren::bedside
