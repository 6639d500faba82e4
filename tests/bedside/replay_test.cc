#include "bedside/replay.h"

#include <gtest/gtest.h>

#include <cstdio>

#include "bedside/script.h"

namespace phren::bedside {
namespace {

using namespace testing;

const Performance& good() {
  static const Performance p = replay(done_well(), asthma(0.8), world().sites).value();
  return p;
}

TEST(Replay, MusicalSoundsAreHeardInAsthmaAndNotInHealth) {
  const auto healthy = replay(done_well(), asthma(0.0), world().sites);
  ASSERT_TRUE(healthy) << healthy.error().message;
  std::printf("audible wheeze and rhonchus: asthma %.1f s, healthy %.1f s\n", musical_s(good()),
              musical_s(*healthy));
  EXPECT_GT(musical_s(good()), 5.0);
  EXPECT_EQ(musical_s(*healthy), 0.0);
  EXPECT_EQ(good().monitor.size(), 121u);
}

TEST(Replay, IsTheSameEveryTime) {
  const auto* a = &good();
  const auto b = replay(done_well(), asthma(0.8), world().sites);
  ASSERT_EQ(a->stays.size(), b->stays.size());
  for (std::size_t i = 0; i < a->stays.size(); ++i) {
    ASSERT_EQ(a->stays[i].heard.size(), b->stays[i].heard.size());
    for (std::size_t h = 0; h < a->stays[i].heard.size(); ++h) {
      EXPECT_EQ(a->stays[i].heard[h].seconds, b->stays[i].heard[h].seconds);
      EXPECT_EQ(a->stays[i].heard[h].loudest_db, b->stays[i].heard[h].loudest_db);
    }
  }
  EXPECT_EQ(a->monitor.back().shown.spo2_percent, b->monitor.back().shown.spo2_percent);
}

TEST(Replay, UnknownTreatmentNamesTheAction) {
  Script s;
  s.at(1, Treat{"oxgen", exam::Side::kMidline}).at(2, End{});
  const auto wrong = replay(s.log(), asthma(0.6), world().sites);
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().message.find("action a0: "), std::string::npos);
  EXPECT_NE(wrong.error().message.find("oxygen"), std::string::npos);
}

}  // namespace
}  // namespace phren::bedside
