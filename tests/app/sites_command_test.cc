#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "app/run.h"

namespace phren::app {
namespace {

TEST(SitesCommand, ListsEverySiteWithItsLandmark) {
  const Ran ran = run_phren({"sites"});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  EXPECT_NE(ran.out.find("2nd intercostal space, midclavicular line"), std::string::npos);
}

TEST(SitesCommand, JsonHoldsEverySiteAndItsMirror) {
  const auto rows = nlohmann::json::parse(run_phren({"sites", "--json"}).out);
  EXPECT_EQ(rows.size(), 32u);
  EXPECT_EQ(rows[0]["id"], "F1");
  EXPECT_EQ(rows[0]["mirror_id"], "F2");
  EXPECT_EQ(rows[0]["at"]["aspect"], "front");
}

}  // namespace
}  // namespace phren::app
