#include "reasoning/look.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "reasoning/make.h"

namespace phren::reasoning {
namespace {

TEST(Looks, AreUnexaminedCheapAndInOrder) {
  const auto x = patient(24, {found("wheeze"), not_found("crackles")});
  const auto i = weighed(x);
  ASSERT_FALSE(i.looks.empty());
  for (std::size_t n = 0; n < i.looks.size(); ++n) {
    const Look& look = i.looks[n];
    EXPECT_NE(look.finding_id, "wheeze");
    EXPECT_NE(look.finding_id, "crackles");
    EXPECT_EQ(std::count(look.shows.begin(), look.shows.end(), "wheeze"), 0);
    EXPECT_FALSE(look.how.empty());
    EXPECT_GT(look.seconds, 0.0);
    EXPECT_GE(look.bits, 0.0);
    if (n > 0) {
      EXPECT_LE(look.score, i.looks[n - 1].score);
    }
  }
}

TEST(Looks, ExpectedInformationFallsToNothingWhenAllIsLookedAt) {
  auto x = patient(24);
  for (const FindingInfo& info : the_knowledge().findings.all()) {
    if (!info.pattern) x.findings.push_back(not_found(info.id));
  }
  EXPECT_TRUE(weighed(x).looks.empty());
}

const Look* find_look(const Impression& i, const std::string& id) {
  const auto found =
      std::find_if(i.looks.begin(), i.looks.end(), [&](const Look& look) { return look.id == id; });
  return found == i.looks.end() ? nullptr : &*found;
}

TEST(Looks, EveryFindingTheBedsideCanShowIsInOneLookWithItsTimeAndSource) {
  std::set<std::size_t> shown;
  for (const LookInfo& look : the_knowledge().looks) {
    EXPECT_FALSE(look.how.empty() || look.source.empty() || look.status.empty()) << look.id;
    EXPECT_GE(look.seconds, 5.0) << look.id;
    EXPECT_LE(look.seconds, 60.0) << look.id;
    for (const std::size_t f : look.findings) EXPECT_TRUE(shown.insert(f).second) << look.id;
  }
  // A squawk needs a recording; the rest are patterns of others.
  std::size_t left = 0;
  for (std::size_t f = 0; f < the_knowledge().findings.all().size(); ++f) {
    const FindingInfo& info = the_knowledge().findings[f];
    if (shown.contains(f)) continue;
    EXPECT_TRUE(info.pattern || info.id == "squawk") << info.id;
    ++left;
  }
  EXPECT_EQ(left, 5u);
}

TEST(Looks, AreRankedByWorthPerSecond) {
  WeighOptions all;
  all.most_looks = 100;
  const auto i = weighed(patient(60), all);
  EXPECT_EQ(i.looks.size(), the_knowledge().looks.size());
  for (const Look& look : i.looks) {
    EXPECT_NEAR(look.score * look.seconds, look.bits + kBitsPerThreat * look.expected_threats,
                1e-12)
        << look.id;
    EXPECT_LE(look.expected_threats, static_cast<double>(look.would_name.size())) << look.id;
  }
}

TEST(Looks, WhatIsKnownAlreadyIsNotLookedForAgain) {
  WeighOptions all;
  all.most_looks = 100;
  auto x = patient(60);
  x.vital_signs.spo2_percent = 97;
  x.vital_signs.heart_rate_per_min = 80;
  EXPECT_EQ(find_look(weighed(x, all), "oximeter"), nullptr);
  const auto i = weighed(patient(60, {not_found("cyanosis")}), all);
  const Look* face = find_look(i, "face");
  ASSERT_NE(face, nullptr);
  EXPECT_EQ(std::count(face->shows.begin(), face->shows.end(), "cyanosis"), 0);
  EXPECT_EQ(face->shows.size(), 3u);
}

TEST(Looks, FaultsNameFileLineAndWhatWouldBeRight) {
  const auto message = [](const std::string& rows) {
    const auto table = CsvTable::parse("look_id,how,seconds,shows,source,status\n" + rows, "l.csv");
    const auto looks = read_looks(*table, the_knowledge().findings);
    return looks ? std::string("no complaint") : looks.error().message;
  };
  EXPECT_EQ(message("a,Look,5,cyanosis,s,ENGINEERING\n"), "no complaint");
  EXPECT_EQ(message("a,Look,0,cyanosis,s,ENGINEERING\n"),
            "l.csv:2: seconds is 0; it must be a number between 1 and 600");
  EXPECT_EQ(message("a,Look,5,cyanosi,s,ENGINEERING\n"),
            "l.csv:2: finding 'cyanosi' is not in findings.toml. Did you mean 'cyanosis'?");
  EXPECT_EQ(message("a,Look,5,cyanosis,,ENGINEERING\n"), "l.csv:2: source may not be blank");
  EXPECT_EQ(message("a,Look,5,cyanosis,s,ENGINEERING\nb,Look,5,cyanosis,s,ENGINEERING\n"),
            "l.csv:3: cyanosis is already shown by look a; a finding belongs to one look");
}

}  // namespace
}  // namespace phren::reasoning
