// How one listens is a deed: it stands in the log, replay gives the same samples, and a bedside whose packet knows no
// instruments refuses it in words.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "bedside/answers.h"
#include "bedside/log_text.h"
#include "bedside/shown.h"
#include "script.h"

namespace phren::bedside {
namespace {

using acoustics::Realness;
using testing::asthma;
using ::testing::HasSubstr;
using testing::Script;

constexpr double kRate_hz = 16000.0;

std::vector<float> sound(const bedside::Setup& setup, const EncounterLog& log, std::size_t block,
                         double seconds = 12.0) {
  auto bedside = Bedside::make(setup, Seed{7}, kRate_hz).value();
  EXPECT_TRUE(bedside.follow(log.actions).has_value());
  std::vector<float> out(static_cast<std::size_t>(seconds * kRate_hz));
  for (std::size_t i = 0; i < out.size(); i += block) {
    bedside.render(std::span<float>(out).subspan(i, std::min(block, out.size() - i)));
  }
  return out;
}

EncounterLog tried_everything() {
  Script s;
  s.at(0.5, Expose{}).at(1.0, Listen{Realness::kPatient, "", {}}).listen(1.5, "P9");
  s.at(4.0, Listen{{}, "electronic_wide", {"heart"}}).at(6.0, Listen{{}, "acoustic_bell", {}});
  s.at(7.5, TurnHead{Head::kDiaphragm}).at(9.0, Listen{Realness::kClassroom, "", {"clicks"}});
  s.at(10.5, Listen{Realness::kClean, "phone", {}});
  return s.log();
}

TEST(Listen, SoundIsTheSameFromTheLogWhateverTheBlocks) {
  const auto parsed = parse_log(to_text(tried_everything()), "e.jsonl");
  ASSERT_TRUE(parsed) << parsed.error().message;
  const bedside::Setup there = asthma(0.6), back = unpack(pack(there)).value();
  EXPECT_EQ(sound(there, tried_everything(), 128), sound(back, parsed->log, 1000));
}

TEST(Listen, LeavesTheCleanSoundAsItWas) {
  Script plain, clean;
  plain.listen(1.0, "P9");
  clean.at(0.5, Listen{Realness::kClean, "", {}}).listen(1.0, "P9");
  const auto before = sound(asthma(0.6), plain.log(), 128, 5.0);
  EXPECT_EQ(sound(asthma(0.6), clean.log(), 128, 5.0), before);
  Script real;
  real.at(0.5, Listen{Realness::kPatient, "", {}}).listen(1.0, "P9");
  EXPECT_NE(sound(asthma(0.6), real.log(), 128, 5.0), before);
}

TEST(Listen, ALayerLeftOutIsNotInTheTruth) {
  for (const bool without : {false, true}) {
    Script s;
    s.at(0.0, Expose{}).at(0.1, Listen{Realness::kPatient, "contact_sensor", {}});
    if (without) s.at(0.2, Listen{{}, "", {"clicks", "hand"}});
    s.listen(0.5, "P9");
    auto bedside = Bedside::make(asthma(0.0), Seed{7}, kRate_hz).value();
    ASSERT_TRUE(bedside.follow(s.log().actions).has_value());
    std::array<acoustics::TruthEvent, 64> some;
    int clicks = 0;
    while (bedside.time_s() < 20.0) {
      bedside.step();
      for (std::size_t n = bedside.drain(some), i = 0; i < n; ++i) {
        clicks += some[i].sound == exam::Sound::kContactClick ? 1 : 0;
      }
    }
    EXPECT_EQ(clicks > 0, !without);
  }
}

TEST(Listen, WhatIsNotAtHandIsAnErrorInWords) {
  const auto bedside = Bedside::make(asthma(0.0), Seed{7}, kRate_hz).value();
  const auto unknown = bedside.check(Listen{{}, "acoustic_bel", {}});
  ASSERT_FALSE(unknown);
  EXPECT_THAT(unknown.error().message, HasSubstr("acoustic_bell"));
  const auto layer = bedside.check(Listen{{}, "", {"hearts"}});
  ASSERT_FALSE(layer);
  EXPECT_THAT(layer.error().message, HasSubstr("heart"));
}

// A packet of before there were instruments goes on playing clean, and says why it cannot do more.
TEST(Listen, AnOldPacketPlaysAsBeforeAndRefusesInstruments) {
  bedside::Setup old = asthma(0.6);
  old.instruments.clear();
  Script s;
  s.listen(1.0, "P9");
  EXPECT_EQ(sound(unpack(pack(old)).value(), s.log(), 128, 4.0),
            sound(asthma(0.6), s.log(), 128, 4.0));
  const auto bedside = Bedside::make(old, Seed{7}, kRate_hz).value();
  EXPECT_TRUE(bedside.check(Listen{Realness::kClean, "", {}}).has_value());
  const auto refused = bedside.check(Listen{Realness::kPatient, "", {}});
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().message, HasSubstr("packet"));
}

TEST(Listen, TurningChangesToTheOtherSideOfThatStethoscope) {
  auto bedside = Bedside::make(asthma(0.0), Seed{7}, kRate_hz).value();
  const auto held = [&] { return bedside.listening().instrument_id(); };
  EXPECT_EQ(held(), "");
  bedside.perform(Listen{Realness::kPatient, "", {}});
  EXPECT_EQ(held(), "acoustic_diaphragm");
  bedside.perform(TurnHead{Head::kBell});
  EXPECT_EQ(held(), "acoustic_bell");
  bedside.perform(Listen{{}, "phone", {}});
  bedside.perform(TurnHead{Head::kDiaphragm});
  EXPECT_EQ(held(), "phone");
  bedside.perform(Listen{Realness::kClean, "", {}});
  EXPECT_EQ(held(), "phone");  // chosen by name
}

// Without a pulse the oximeter and the cuff find nothing, on the page and in what is weighed.
TEST(Monitor, ShowsNoReadingWithoutAPulse) {
  patient::Monitor m;
  m.spo2_percent = 36.0;
  const patient::Monitor alive = as_instruments_read(m);
  EXPECT_DOUBLE_EQ(alive.spo2_percent, 36.0);
  m.has_pulse = false;
  const patient::Monitor still = as_instruments_read(m);
  for (const double one :
       {still.spo2_percent, still.heart_rate_per_min, still.systolic_mmHg, still.diastolic_mmHg}) {
    EXPECT_TRUE(std::isnan(one));
  }
  EXPECT_DOUBLE_EQ(still.etco2_mmHg, m.etco2_mmHg) << "capnometry needs no pulse";
  const auto ask = [](const std::string& now) {
    return answer(
        R"({"ask":"examination","log":[{"id":"a","t":1,"do":"measure","vital":"spo2_percent"}],)"
        R"("case_id":"c","seed":1,"age_years":40,"sex":"male","setting":"ems_adult","now":)" +
            now + "}",
        testing::world().sites, nullptr);
  };
  const auto with = ask(R"({"spo2":36,"heartPerMin":90,"systolic":70,"diastolic":40})");
  ASSERT_TRUE(with) << with.error().message;
  EXPECT_THAT(*with, HasSubstr("\"spo2_percent\":36"));
  const auto without = ask(R"({"spo2":null,"heartPerMin":null,"systolic":null,"diastolic":null})");
  ASSERT_TRUE(without) << without.error().message;
  EXPECT_THAT(*without, ::testing::Not(HasSubstr("\"spo2_percent\":97")));
}

TEST(Listen, StandsInTheAnswersAndInTheSteps) {
  const bedside::Setup setup = asthma(0.0);
  const auto bedside = Bedside::make(setup, Seed{7}, kRate_hz).value();
  const auto all = answer(R"({"ask":"instruments"})", testing::world().sites, &bedside);
  ASSERT_TRUE(all) << all.error().message;
  EXPECT_THAT(*all, HasSubstr("\"electronic_wide\""));
  EXPECT_EQ(step_in_words(Listen{Realness::kPatient, "phone", {"heart"}}, testing::world().sites,
                          [](const std::string& id) { return id; }),
            "Listened through the phone, as on a patient, without heart");
}

}  // namespace
}  // namespace phren::bedside
