#include "base/json_text.h"

#include <gtest/gtest.h>

#include <string>

namespace phren {
namespace {

TEST(JsonText, CountsBracketsOutsideOfStrings) {
  EXPECT_FALSE(is_deeper_json("[[{}]]", 3));
  EXPECT_TRUE(is_deeper_json("[[{}]]", 2));
  EXPECT_FALSE(is_deeper_json(R"(["[[[[", "\"[[[", "\\"])", 1));
  EXPECT_TRUE(is_deeper_json(R"(["\\", [[]]])", 2));
  EXPECT_FALSE(is_deeper_json("[],[],[],{}", 1)) << "beside each other is not within each other";
  EXPECT_TRUE(is_deeper_json(std::string(130'000, '[')));
  EXPECT_TRUE(is_deeper_json("{\"a\":" + std::string(130'000, '[')));
  EXPECT_FALSE(is_deeper_json("\"" + std::string(130'000, '[')));
  EXPECT_FALSE(is_deeper_json(""));
}

}  // namespace
}  // namespace phren
