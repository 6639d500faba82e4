#include "signal/labels.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace phren::signal {
namespace {

using testing::HasSubstr;

TEST(Labels, ComeBackAsWritten) {
  const std::vector<Label> labels{{0.25, 1.5, "wheeze 412 Hz"}, {2.0, 2.0, ""}};
  const std::string text = format_labels(labels);
  EXPECT_EQ(text, "0.250000\t1.500000\twheeze 412 Hz\n2.000000\t2.000000\t\n");
  const auto back = parse_labels(text);
  ASSERT_TRUE(back);
  ASSERT_EQ(back->size(), 2u);
  EXPECT_EQ((*back)[0].text, "wheeze 412 Hz");
  EXPECT_DOUBLE_EQ((*back)[0].end_s, 1.5);
}

TEST(Labels, BreaksAndTabsInTextCannotForgeALine) {
  EXPECT_EQ(format_labels({{0, 1, "a\tb\nc"}}), "0.000000\t1.000000\ta b c\n");
}

TEST(Labels, AcceptsWindowsLinesAndFrequencyLines) {
  const auto labels = parse_labels("0\t1\tcrackle\r\n\\\t100\t900\r\n1\t2\r\n");
  ASSERT_TRUE(labels) << labels.error().message;
  EXPECT_EQ(labels->size(), 2u);
}

TEST(Labels, NamesTheLineThatIsWrong) {
  EXPECT_THAT(parse_labels("0\t1\tok\nhello\n").error().message,
              HasSubstr("line 2 is 'hello': no tab"));
  EXPECT_THAT(parse_labels("3\t1\tx\n").error().message, HasSubstr("the end is before the start"));
  EXPECT_THAT(parse_labels("a\t1\tx\n").error().message, HasSubstr("the start is not a number"));
  EXPECT_THAT(parse_labels("-1\t1\tx\n").error().message, HasSubstr("the start is below 0"));
  EXPECT_FALSE(parse_labels("0\tnan\tx\n"));
}

TEST(Labels, NothingIsNoLabels) {
  ASSERT_TRUE(parse_labels(""));
  EXPECT_TRUE(parse_labels("")->empty());
}

}  // namespace
}  // namespace phren::signal
