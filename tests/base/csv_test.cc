#include "base/csv.h"

#include <gtest/gtest.h>

namespace phren {
namespace {

TEST(CsvTable, ReadsQuotesRemarksAndBlanks) {
  const auto t = CsvTable::parse("# remark\na,b\n1,\"x, \"\"y\"\"\n z\"\n\n2,\n", "t.csv");
  ASSERT_TRUE(t) << t.error().message;
  ASSERT_EQ(t->num_rows(), 2u);
  EXPECT_EQ(t->text(0, "b"), "x, \"y\"\n z");
  EXPECT_EQ(t->number(0, "a", 0, 10).value().value(), 1.0);
  EXPECT_FALSE(t->number(1, "b", 0, 10).value().has_value());
  EXPECT_EQ(t->place(1), "t.csv:6");
}

TEST(CsvTable, CarriageReturnsAndAByteOrderMarkAreNotData) {
  EXPECT_EQ(CsvTable::parse("\xEF\xBB\xBF"
                            "a\n1\n",
                            "t.csv")
                .value()
                .text(0, "a"),
            "1");
  EXPECT_EQ(CsvTable::parse("a,b\r\n1,2\r\n", "t.csv").value().text(0, "b"), "2");
}

TEST(CsvTable, FaultsNameFileLineColumnValueAndRange) {
  EXPECT_EQ(CsvTable::parse("a,b\n1\n", "t.csv").error().message,
            "t.csv:2: has 1 fields; the heading has 2");
  EXPECT_EQ(CsvTable::parse("a\n\"x\n", "t.csv").error().message, "t.csv:2: a quote is not closed");
  EXPECT_EQ(CsvTable::parse("", "t.csv").error().message, "t.csv: is empty; a heading is needed");
  const auto t = CsvTable::parse("sens,b\n1.2,2\nx,nan\n", "t.csv").value();
  EXPECT_EQ(t.number(0, "sens", 0, 1).error().message,
            "t.csv:2: sens is 1.2; it must be a number between 0 and 1");
  EXPECT_FALSE(t.number(1, "sens", 0, 1));
  EXPECT_FALSE(t.number(1, "b", 0, 1)) << "not a number is no number";
  EXPECT_EQ(t.needed_number(1, "sens", 0, 1).error().message,
            "t.csv:3: sens is x; it must be a number between 0 and 1");
  EXPECT_NE(t.require({"senss"}).error().message.find("Did you mean 'sens'?"), std::string::npos);
}

}  // namespace
}  // namespace phren
