#include "base/random.h"

#include <gtest/gtest.h>

#include <cmath>

namespace phren {
namespace {

TEST(RandomStream, SameSeedAndNameGiveTheSameDraws) {
  RandomStream a(Seed{42}, "lungs"), b(Seed{42}, "lungs");
  for (int i = 0; i < 1000; ++i) EXPECT_EQ(a.bits(), b.bits());
}

TEST(RandomStream, AnotherNameOrSeedGivesOtherDraws) {
  RandomStream a(Seed{42}, "lungs"), b(Seed{42}, "heart"), c(Seed{43}, "lungs");
  int same = 0;
  for (int i = 0; i < 1000; ++i) {
    const auto x = a.bits();
    same += x == b.bits();
    same += x == c.bits();
  }
  EXPECT_EQ(same, 0);
}

TEST(RandomStream, KnownFirstDrawNeverChanges) {
  // A change here would silently change every saved case.
  RandomStream a(Seed{1}, "answer");
  const std::uint64_t first = a.bits();
  RandomStream b(Seed{1}, "answer");
  EXPECT_EQ(b.bits(), first);
  EXPECT_EQ(first, 6215991126952728309ULL);
}

TEST(RandomStream, MomentsAreRight) {
  RandomStream r(Seed{3}, "moments");
  double sum = 0, sum2 = 0, uniform = 0;
  constexpr int n = 200000;
  for (int i = 0; i < n; ++i) {
    const double z = r.normal();
    sum += z;
    sum2 += z * z;
    uniform += r.uniform();
  }
  EXPECT_NEAR(sum / n, 0.0, 0.01);  // 4.5 standard errors
  EXPECT_NEAR(sum2 / n, 1.0, 0.015);
  EXPECT_NEAR(uniform / n, 0.5, 0.003);
}

TEST(RandomStream, BelowIsUnbiasedAndInRange) {
  RandomStream r(Seed{5}, "below");
  int count[7] = {};
  for (int i = 0; i < 70000; ++i) ++count[r.below(7)];
  for (const int c : count) EXPECT_NEAR(c, 10000, 450);
}

}  // namespace
}  // namespace phren
