#include "app/examine/markup.h"

#include <gtest/gtest.h>

namespace phren::app {
namespace {

TEST(Markup, EscapesEveryCharacterThatCouldEndATextOrAnAttribute) {
  EXPECT_EQ(escape("<a href=\"x\">'&'</a>"),
            "&lt;a href=&quot;x&quot;&gt;&#39;&amp;&#39;&lt;/a&gt;");
}

TEST(Markup, Base64MatchesTheTestVectorsOfRfc4648) {  // section 10
  const std::pair<const char*, const char*> vectors[] = {{"", ""},
                                                         {"f", "Zg=="},
                                                         {"fo", "Zm8="},
                                                         {"foo", "Zm9v"},
                                                         {"foob", "Zm9vYg=="},
                                                         {"fooba", "Zm9vYmE="},
                                                         {"foobar", "Zm9vYmFy"}};
  for (const auto& [plain, coded] : vectors) EXPECT_EQ(base64(plain), coded);
}

TEST(Markup, NumbersHaveATrueMinusAndNoNegativeZero) {
  EXPECT_EQ(number(-3.14159, 2), "\u22123.14");
  EXPECT_EQ(number(-0.04, 1), "0.0");
  EXPECT_EQ(number(12.5), "12");  // banker's: the even neighbour, as printf gives
}

}  // namespace
}  // namespace phren::app
