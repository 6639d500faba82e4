#include "base/text.h"

#include <gtest/gtest.h>

#include <limits>

namespace phren {
namespace {

TEST(Text, NumbersHaveNoNegativeZeroAndNoTail) {
  EXPECT_EQ(number_text(-0.004, 2), "0.00");
  EXPECT_EQ(number_text(-0.6, 0), "-1");
  EXPECT_EQ(number_text(12.345, 1), "12.3");
  EXPECT_EQ(number_text(std::numeric_limits<double>::max(), 3).size(), 313u);
  EXPECT_EQ(short_number(14400.0), "14400");
  EXPECT_EQ(short_number(0.5), "0.5");
}

TEST(Text, MarkupCannotBreakOutOfTextOrAttribute) {
  EXPECT_EQ(escape_markup("<a href=\"x\">Tom & 'Di'</a>"),
            "&lt;a href=&quot;x&quot;&gt;Tom &amp; &#39;Di&#39;&lt;/a&gt;");
}

}  // namespace
}  // namespace phren
