// What a treatment does to the sound of asthma.
#include <gtest/gtest.h>

#include <cstdio>

#include "acoustics/bedside.h"

namespace phren::acoustics {
namespace {

using namespace testing;

// Baughman & Loudon 1984, Chest 86:718, 20 acute asthmatics: share of the breath 86 -> 31 %,
// highest note 440 -> 298 Hz after a bronchodilator. Direction is strict, size is printed.
TEST(EmergenceSlow, BronchodilatorShortensAndLowersTheWheeze) {
  const auto treatments = patient::Treatments::load(data_directory() / "treatments");
  const int index = *treatments->index_of("inhaled_bronchodilator");
  auto body = sick("asthma", 0.85);
  const Recording before = listen(body, kLeftBase, 20.0, 8000.0);
  EXPECT_TRUE(body.act({patient::ActionKind::kTreat, index, exam::Side::kMidline, 0.0}));
  body.advance_to(body.time_s() + 420.0);
  const Recording after = listen(body, kLeftBase, 20.0, 8000.0);
  const Wheezing was = wheezing(before, 0.1), is = wheezing(after, 0.1);  // CORSA's 100 ms
  std::printf(
      "[ FIGURE   ] bronchodilator: wheeze %.0f -> %.0f %% of the time, highest %.0f -> %.0f Hz; "
      "published 86 -> 31 %%, 440 -> 298 Hz\n",
      100.0 * was.share, 100.0 * is.share, was.highest_hz, is.highest_hz);
  EXPECT_LT(is.share, 0.7 * was.share);
  EXPECT_LT(is.highest_hz, was.highest_hz);
}

}  // namespace
}  // namespace phren::acoustics
