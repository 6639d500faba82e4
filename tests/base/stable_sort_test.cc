#include "base/stable_sort.h"

#include <gtest/gtest.h>

#include <utility>
#include <vector>

#include "base/random.h"

namespace phren {
namespace {

TEST(StableSort, OrdersAndKeepsTheOrderOfEquals) {
  RandomStream random(Seed{11}, "stable_sort");
  for (int round = 0; round < 200; ++round) {
    std::vector<std::pair<int, int>> items;
    const int n = static_cast<int>(random.below(60));
    for (int i = 0; i < n; ++i) items.emplace_back(static_cast<int>(random.below(5)), i);
    stable_sort(items, [](const auto& a, const auto& b) { return a.first < b.first; });
    ASSERT_EQ(items.size(), static_cast<std::size_t>(n)) << "seed 11, round " << round;
    for (std::size_t i = 1; i < items.size(); ++i) {
      // The second number is the place before sorting: pairs in order are sorted and stable.
      EXPECT_LT(items[i - 1], items[i]) << "seed 11, round " << round;
    }
  }
}

TEST(StableSort, EmptyStaysEmpty) {
  std::vector<int> none;
  stable_sort(none, [](int a, int b) { return a < b; });
  EXPECT_TRUE(none.empty());
}

}  // namespace
}  // namespace phren
