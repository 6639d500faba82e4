#include "base/result.h"

#include <gtest/gtest.h>

#include <array>

namespace phren {
namespace {

TEST(Result, RangeErrorNamesFieldValueAndRange) {
  const Error error = out_of_range("severity", 1.5, "between 0 and 1");
  EXPECT_EQ(error.code, ErrorCode::kInvalidArgument);
  EXPECT_EQ(error.message, "severity is 1.5; it must be between 0 and 1");
  EXPECT_EQ(at("a.toml:3", error).message, "a.toml:3: severity is 1.5; it must be between 0 and 1");
}

TEST(Result, SuggestsTheNearestNameOnlyWhenNear) {
  const std::array<std::string_view, 3> known{"asthma", "croup", "healthy"};
  EXPECT_EQ(did_you_mean("astma", known), " Did you mean 'asthma'?");
  EXPECT_EQ(did_you_mean("zzzzzzzzz", known), "");
}

TEST(Result, EditDistanceIsLevenshtein) {
  EXPECT_EQ(edit_distance("kitten", "sitting"), 3u);
  EXPECT_EQ(edit_distance("", "abc"), 3u);
  EXPECT_EQ(edit_distance("same", "same"), 0u);
}

}  // namespace
}  // namespace phren
