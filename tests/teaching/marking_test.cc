// Replay and marking together: the same case done well and done badly.
#include <gtest/gtest.h>

#include <cstdio>

#include "base/files.h"
#include "bedside/script.h"
#include "teaching/marking/mark.h"

namespace phren::teaching {
namespace {

using namespace bedside;
using namespace bedside::testing;

const Checklist& station() {
  static const Checklist list =
      load_checklist(data_directory() / "checklists" / "asthma_station.toml").value();
  return list;
}

const ItemMark& item(const MarkSheet& sheet, const std::string& id) {
  for (const ItemMark& mark : sheet.items) {
    if (mark.item_id == id) return mark;
  }
  ADD_FAILURE() << id;
  return sheet.items.front();
}

TEST(Checklists, EveryFileOfTheDataFolderReads) {
  int files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(data_directory() / "checklists")) {
    const auto list = load_checklist(entry.path());
    ASSERT_TRUE(list) << list.error().message;
    ++files;
    for (const ChecklistItem& i : list->items) {
      for (const std::string& id : i.sites) EXPECT_TRUE(world().sites.find(id)) << id;
      for (const std::string& id : i.treatments) EXPECT_TRUE(world().treatments.find(id)) << id;
      for (const std::string& id : i.conditions) EXPECT_TRUE(world().conditions.find(id)) << id;
    }
  }
  EXPECT_GE(files, 39);
}

TEST(Checklists, ARuleWithoutItsListIsRefused) {
  const auto wrong = parse_checklist(
      "title='t'\nstatus='s'\n[[item]]\nid='x'\ntext='y'\nrule='treated'\n", "c.toml");
  EXPECT_EQ(wrong.error().message, "c.toml:3: item x: rule treated needs the list treatments");
  EXPECT_FALSE(parse_checklist("title='t'\nstatus='s'\n[[item]]\nid='x'\ntext='y'\nrule='sung'\n",
                               "c.toml"));
}

const Performance& good() {
  static const Performance p = replay(done_well(), asthma(0.8), world().sites).value();
  return p;
}

TEST(Marking, AGoodPerformancePassesAndSaysWhy) {
  const MarkSheet sheet = mark(good(), station(), world().sites);
  for (const ItemMark& m : sheet.items) {
    std::printf("%-16s %-8s %.1f/%.1f  %s\n", m.item_id.c_str(),
                std::string(to_string(m.verdict)).c_str(), m.points, m.max_points,
                m.reason.c_str());
  }
  EXPECT_TRUE(sheet.passed);
  EXPECT_DOUBLE_EQ(sheet.points, sheet.max_points);
  EXPECT_EQ(item(sheet, "bronchodilator").reason, "Gave inhaled bronchodilator at 95.0 s.");
  EXPECT_EQ(item(sheet, "bases").reason, "Listened at P9 (16.0 s) and P10 (19.0 s).");
}

TEST(Marking, ABadPerformanceFailsOnTheCriticalItems) {
  const auto p = replay(done_badly(), asthma(0.6), world().sites);
  const MarkSheet sheet = mark(*p, station(), world().sites);
  EXPECT_FALSE(sheet.passed);
  EXPECT_EQ(sheet.critical_missed,
            (std::vector<std::string>{"finds_wheeze", "bronchodilator", "no_needle"}));
  EXPECT_EQ(item(sheet, "exposes").reason, "Listened through clothing at F5 (2.0 s to 4.0 s).");
  EXPECT_EQ(item(sheet, "no_needle").action_ids, (std::vector<std::string>{"a3"}));
  EXPECT_EQ(item(sheet, "no_fine_crackles").verdict, Verdict::kMissed);
}

TEST(Marking, WhatWasAudibleIsJudgedOnlyAfterReplay) {
  const auto list =
      load_checklist(data_directory() / "checklists" / "chest_examination.toml").value();
  const Performance claimed = timeline_of(done_well(), world().sites, Clothing::kShirt);
  EXPECT_EQ(item(mark(claimed, list, world().sites), "names").verdict, Verdict::kNotJudged);
  const MarkSheet sheet = mark(good(), list, world().sites);
  std::printf("%s\n", item(sheet, "names").reason.c_str());
  EXPECT_NE(item(sheet, "names").verdict, Verdict::kNotJudged);
  EXPECT_GT(item(sheet, "names").points, 0.0);
}

TEST(Marking, TooLateAndTooShortAreMissed) {
  Script s;
  s.at(1, Expose{}).listen(2, "P9").listen(4, "P10").at(6, Lift{});
  s.at(400, Treat{"inhaled_bronchodilator", exam::Side::kMidline}).at(700, End{});
  const Performance p = timeline_of(s.log(), world().sites, Clothing::kShirt);
  const MarkSheet sheet = mark(p, station(), world().sites);
  EXPECT_EQ(item(sheet, "bronchodilator").reason,
            "Gave inhaled bronchodilator at 400.0 s, after the 300.0 s allowed.");
  EXPECT_EQ(item(sheet, "bases").reason,
            "Not listened long enough at P9 (2.0 s) and P10 (2.0 s); 4.0 s at each is asked for.");
  EXPECT_TRUE(sheet.over_time);
  EXPECT_FALSE(mark(p, station(), world().sites, {0.25, exam::Side::kMidline}).over_time);
}

}  // namespace
}  // namespace phren::teaching
