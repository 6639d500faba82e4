#include "base/utf8.h"

#include <gtest/gtest.h>

namespace phren {
namespace {

// The cases are those that RFC 3629, sections 3 and 4, names.
TEST(Utf8, KnowsWhatIsText) {
  for (const char* good : {"", "plain", "\xC3\xA9", "\xE2\x82\xAC", "\xED\x9F\xBF",
                           "\xF0\x9F\xAB\x81", "\xF4\x8F\xBF\xBF"}) {
    EXPECT_TRUE(is_utf8(good)) << good;
  }
  for (const char* bad :
       {"\xFF", "\xE9", "a\xC3", "\xC0\x80", "\xC1\xBF", "\xE0\x80\x80", "\xED\xA0\x80",
        "\xF0\x80\x80\x80", "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\x80", "\xE2\x28\xA1"}) {
    EXPECT_FALSE(is_utf8(bad)) << bad;
  }
}

TEST(Utf8, CleansAndCutsByCharacter) {
  EXPECT_EQ(clean_utf8("Ren\xE9!", 100), "Ren\xEF\xBF\xBD!");
  EXPECT_EQ(clean_utf8(std::string_view("a\0b", 3), 100),
            "a\xEF\xBF\xBD"
            "b");
  EXPECT_EQ(clean_utf8("a\xC3\xA9", 2), "a");
  EXPECT_EQ(clean_utf8("a\xC3\xA9", 3), "a\xC3\xA9");
  EXPECT_EQ(clean_utf8("abc", 2), "ab");
}

}  // namespace
}  // namespace phren
