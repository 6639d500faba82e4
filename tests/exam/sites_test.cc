#include "exam/sites.h"

#include <gtest/gtest.h>

#include "base/files.h"

namespace phren::exam {
namespace {

TEST(SiteMap, EverySiteHasAMirrorOrIsOnTheMidline) {
  const auto map = SiteMap::load(data_directory() / "sites.toml");
  ASSERT_TRUE(map) << map.error().message;
  EXPECT_GE(map->all().size(), 30u);
  for (const Site& site : map->all()) {
    EXPECT_EQ(site.mirror_id.empty(), site.side == Side::kMidline) << site.id;
    EXPECT_FALSE(site.landmark.empty()) << site.id;
  }
}

TEST(SiteMap, MirroredSitesHearMirroredSides) {
  const auto map = SiteMap::load(data_directory() / "sites.toml").value();
  const auto right_weight = [](const Site& s) {
    return s.lobe_weight[0] + s.lobe_weight[1] + s.lobe_weight[2];
  };
  for (const Site& site : map.all()) {
    if (site.side != Side::kRight) continue;
    const Site mirror = map.find(site.mirror_id).value();
    EXPECT_GT(right_weight(site), 0.75) << site.id;
    EXPECT_LT(right_weight(mirror), 0.10) << mirror.id;
  }
}

TEST(SiteMap, UnknownSiteIsNamedWithTheNearest) {
  const auto map = SiteMap::load(data_directory() / "sites.toml").value();
  const auto wrong = map.find("F99");
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().code, ErrorCode::kNotFound);
  EXPECT_NE(wrong.error().message.find("F99"), std::string::npos);
}

TEST(SiteMap, FaultsNameFileLineAndField) {
  EXPECT_NE(SiteMap::parse("x = ", "s.toml").error().message.find("s.toml:1"), std::string::npos);
  const char* text =
      "[[site]]\nid = 'A'\nname = 'a'\nlandmark = 'l'\nside = 'up'\naspect = 'front'\nu = 0\nv = "
      "0\n";
  const auto wrong = SiteMap::parse(text, "s.toml");
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().message,
            "s.toml:5: site A: side is 'up'; it must be one of right, left, midline");
}

}  // namespace
}  // namespace phren::exam
