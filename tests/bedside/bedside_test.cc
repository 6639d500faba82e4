// One body, one chestpiece, one loop.
#include "bedside/bedside.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bedside/recording.h"
#include "bedside/script.h"

namespace phren::bedside {
namespace {

using namespace testing;

constexpr double kRate_hz = 48000.0;
const exam::TorsoPoint kBase{exam::Aspect::kBack, 0.4, 0.6};

Bedside bedside_of(const Setup& setup, std::uint64_t seed = 5) {
  return Bedside::make(setup, Seed{seed}, kRate_hz).value();
}

TEST(Bedside, RejectsARateOutOfRange) {
  const auto made = Bedside::make(asthma(0.0), Seed{1}, 100.0);
  ASSERT_FALSE(made);
  EXPECT_THAT(made.error().message, ::testing::HasSubstr("sample_rate_hz is 100"));
}

TEST(Bedside, SoundDoesNotDependOnBlockSize) {
  Bedside a = bedside_of(asthma(0.6)), b = bedside_of(asthma(0.6));
  a.perform(Place{kBase});
  b.perform(Place{kBase});
  std::vector<float> x(48000), y(48000);
  a.render(x);
  for (std::size_t done = 0; done < y.size();) {
    const std::size_t n = std::min<std::size_t>(1 + done % 777, y.size() - done);
    b.render(std::span<float>(y).subspan(done, n));
    done += n;
  }
  EXPECT_EQ(x, y);
}

TEST(Bedside, TimeOfSoundIsTimeOfPatient) {
  auto made = Bedside::make(asthma(0.0), Seed{1}, 44100.0).value();  // steps are not whole frames
  std::vector<float> minute(44100 * 60);
  made.render(minute);
  EXPECT_NEAR(made.time_s(), 60.0, 0.009);
}

TEST(Bedside, WhatFollowsTimePassedUnheardIsWhatWouldHaveBeenHeard) {
  Bedside heard = bedside_of(asthma(0.6)), unheard = bedside_of(asthma(0.6));
  for (Bedside* one : {&heard, &unheard}) one->perform(Place{kBase});
  std::vector<float> thirty_s(48000 * 30), x(48000), y(48000);
  heard.render(thirty_s);
  unheard.run_to(30.0);
  EXPECT_EQ(unheard.time_s(), 30.0);
  heard.render(x);
  unheard.render(y);
  EXPECT_EQ(x, y);
  const double before_s = unheard.time_s();
  unheard.run_to(5.0);
  EXPECT_EQ(unheard.time_s(), before_s) << "time never runs backwards";
}

// A deed that is to come is done at the step at which a hand would do it.
TEST(Bedside, FollowingALogIsDoingTheDeedsInTime) {
  Bedside by_hand = bedside_of(asthma(0.6)), by_log = bedside_of(asthma(0.6));
  ASSERT_TRUE(by_log.follow({{"a", 0.5, Place{kBase}}, {"b", 1.0, Expose{}}, {"c", 1.5, Lift{}}}));
  std::vector<float> x(24000), y(24000);
  const Deed deeds[] = {Lift{}, Place{kBase}, Expose{}, Lift{}};
  for (const Deed& deed : deeds) {
    by_hand.perform(deed);
    by_hand.render(x);
    by_log.render(y);
    EXPECT_EQ(x, y) << deed.index();
  }
}

TEST(Bedside, WhatCannotBeGivenIsAnErrorThatNamesTheAction) {
  Bedside here = bedside_of(asthma(0.6));
  const auto wrong = here.follow({{"a7", 1.0, Treat{"oxgen", exam::Side::kMidline}}});
  ASSERT_FALSE(wrong);
  EXPECT_THAT(wrong.error().message, ::testing::HasSubstr("action a7: treatment 'oxgen'"));
}

TEST(Bedside, APacketGivesTheSamePatientAndIsDoubted) {
  bedside::Setup setup = asthma(0.6, Clothing::kJacket);
  setup.around.room = acoustics::Surroundings::kSiren;
  setup.told = {{"fever",
                 exam::Presence::kAbsent,
                 exam::Basis::kAsked,
                 exam::Side::kMidline,
                 {},
                 {},
                 1.0,
                 ""}};
  const std::string bytes = pack(setup);
  const bedside::Setup back = unpack(bytes).value();
  EXPECT_EQ(back.around.clothing, Clothing::kJacket);
  EXPECT_EQ(back.around.room, acoustics::Surroundings::kSiren);
  EXPECT_EQ(back.treatment_ids, setup.treatment_ids);
  ASSERT_EQ(back.told.size(), 1u);
  EXPECT_EQ(back.told[0].presence, exam::Presence::kAbsent);
  EXPECT_EQ(pack(back), bytes);
  for (const std::size_t cut :
       {std::size_t{0}, std::size_t{7}, std::size_t{100}, bytes.size() - 1}) {
    EXPECT_FALSE(unpack(std::string_view(bytes).substr(0, cut))) << cut;
  }
}

TEST(Bedside, WhatIsToldStandsBeforeWhatTheBodyShows) {
  bedside::Setup setup = asthma(0.9);
  setup.told = {{"cyanosis",
                 exam::Presence::kPresent,
                 exam::Basis::kSeen,
                 exam::Side::kMidline,
                 {},
                 {},
                 1.0,
                 ""}};
  int said = 0;
  for (const exam::Finding& one : bedside_of(setup).findings()) {
    if (one.id != "cyanosis") continue;
    ++said;
    EXPECT_EQ(one.presence, exam::Presence::kPresent);
  }
  EXPECT_EQ(said, 1);
}

TEST(Covering, PartsAndWholeAndTheNeck) {
  Covering shirt(Clothing::kShirt);
  EXPECT_FALSE(shirt.is_bare(exam::Aspect::kBack));
  EXPECT_TRUE(shirt.is_bare(exam::Aspect::kNeck));
  EXPECT_EQ(shirt.thickness_at(exam::Aspect::kBack), thickness_of(Clothing::kShirt));
  shirt.apply(Expose{exam::Aspect::kBack});
  EXPECT_TRUE(shirt.is_bare(exam::Aspect::kBack));
  EXPECT_FALSE(shirt.is_bare(exam::Aspect::kFront));
  shirt.apply(Expose{});
  EXPECT_TRUE(shirt.is_bare(exam::Aspect::kFront));
  shirt.apply(Cover{});
  EXPECT_FALSE(shirt.is_bare(exam::Aspect::kBack));
  Covering none(Clothing::kBare);
  none.apply(Cover{});
  EXPECT_TRUE(none.is_bare(exam::Aspect::kFront)) << "who came bare has nothing to close";
}

// The recording's samples are those of the bedside; its truth is in its own time.
TEST(Recording, IsWhatTheBedsideGivesAfterSettling) {
  const auto body = patient::Patient::make(asthma(0.8).patient, Seed{3}).value();
  RecordingRequest request;
  request.at = kBase;
  request.seconds = 6.0;
  const bedside::Recording made = record(body, Seed{3}, request).value();
  EXPECT_EQ(made.samples.size(), 288000u);
  Bedside same = Bedside::around(body, {}, Seed{3}, kRate_hz).value();
  same.perform(Place{kBase});
  std::vector<float> settle(12000), sound(288000);
  same.render(settle);
  same.render(sound);
  EXPECT_EQ(made.samples, sound);
  ASSERT_FALSE(made.events.empty());
  double last_s = 0.0;
  for (const auto& event : made.events) {
    EXPECT_GE(event.start_s, last_s);
    EXPECT_LE(event.end_s, 6.0);
    last_s = event.start_s;
  }
}

}  // namespace
}  // namespace phren::bedside
