#include "app/cli/table.h"

#include <gtest/gtest.h>

#include <sstream>

namespace phren::app {
namespace {

TEST(Table, ColumnsLineUpAndNumbersStandRight) {
  Table table({"name", ">n", "note"});
  table.row({"é", "5", "x"});
  table.row({"long", "12", ""});
  std::ostringstream out;
  table.print(out);
  EXPECT_EQ(out.str(),
            "name   n  note\n"
            "----  --  ----\n"
            "é      5  x\n"
            "long  12  \n");
}

TEST(Table, WithoutRowsShowsItsHeadings) {
  std::ostringstream out;
  Table({"a"}).print(out);
  EXPECT_EQ(out.str(), "a\n-\n");
}

}  // namespace
}  // namespace phren::app
