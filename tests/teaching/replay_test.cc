// Replay and marking together: the same case done well and done badly.
#include "teaching/encounter/replay.h"

#include <gtest/gtest.h>

#include <cstdio>
#include <set>

#include "base/files.h"
#include "teaching/case.h"
#include "teaching/encounter/log_text.h"
#include "teaching/marking/mark.h"
#include "teaching/marking/rules.h"

namespace phren::teaching {
namespace {

struct World {
  patient::Conditions conditions =
      patient::Conditions::load(data_directory() / "conditions").value();
  patient::Treatments treatments =
      patient::Treatments::load(data_directory() / "treatments").value();
  exam::SiteMap sites = exam::SiteMap::load(data_directory() / "sites.toml").value();
  ReplayData data() const { return {conditions, treatments, sites}; }
};

const World& world() {
  static const World w;
  return w;
}

ReplaySetup asthma(double severity) {
  ReplaySetup setup;
  setup.patient.person = {34, patient::Sex::kFemale, 166, 68, 0.3};
  if (severity > 0.0) setup.patient.conditions.push_back({"asthma", severity});
  setup.clothing_thickness = 0.3;
  return setup;
}

class Script {
 public:
  Script() { log_.header = {1, "e-1", "asthma", 42, "test", ""}; }
  Script& at(double time_s, Deed deed) {
    log_.actions.push_back({"a" + std::to_string(log_.actions.size()), time_s, std::move(deed)});
    return *this;
  }
  Script& listen(double from_s, const std::string& site) {
    return at(from_s, Place{world().sites.find(site)->at});
  }
  const EncounterLog& log() const { return log_; }

 private:
  EncounterLog log_;
};

Report report(const std::string& id, exam::Presence presence = exam::Presence::kPresent) {
  exam::Finding f;
  f.id = id;
  f.presence = presence;
  return {f};
}

EncounterLog done_well() {
  Script s;
  s.at(2, Expose{}).at(3, Instruct{Manoeuvre::kBreatheDeeply, 120});
  s.at(4, Measure{"respiratory_rate_per_min"}).at(5, Measure{"spo2_percent"});
  s.at(6, Measure{"heart_rate_per_min"});
  double t = 10;
  for (const char* site : {"F5", "F6", "F9", "F10", "S3", "S4", "P9", "P10"})
    s.listen(t += 8, site);
  s.at(85, Lift{}).at(86, report("wheeze")).at(88, Examine{Look::kAsk, "history_asthma", ""});
  s.at(90, Examine{Look::kAsk, "allergen_exposure", ""});
  s.at(95, Treat{"inhaled_bronchodilator", exam::Side::kMidline});
  s.listen(100, "P9").listen(108, "P10").at(116, Lift{});
  s.at(118, Rank{{"asthma"}}).at(120, End{});
  return s.log();
}

EncounterLog done_badly() {
  Script s;
  s.listen(2, "F5").at(4, Lift{}).at(6, report("fine_crackles"));
  s.at(8, Treat{"needle_decompression", exam::Side::kRight}).at(10, End{});
  return s.log();
}

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
  EXPECT_GE(files, 3);
}

// What listening everywhere on the case of `id` lets one name rightly.
std::set<std::string> audible_findings(const std::string& id) {
  const Case prepared = find_case(id, data_directory()).value();
  Script s;
  s.at(0.5, Expose{}).at(1, Instruct{Manoeuvre::kBreatheDeeply, 600});
  double t = 2;
  for (const auto& site : world().sites.all()) s.listen(t += 8, site.id);
  s.at(t + 8, End{});
  const ReplaySetup setup{prepared.patient, thickness_of(prepared.clothing), prepared.room};
  const Performance heard = replay(s.log(), setup, world().data()).value();
  std::set<std::string> names;
  for (const Stay& stay : heard.stays) {
    for (const HeardSound& sound : stay.heard) {
      const SoundNames known = finding_names(sound.sound);
      names.insert(known.exact.begin(), known.exact.end());
      if (names.contains("fine_crackles") || names.contains("coarse_crackles")) {
        names.insert("crackles");
      }
    }
  }
  return names;
}

TEST(Checklists, ReportingWhatIsAudibleCostsNoPoint) {
  const std::string ending = "_station.toml";
  int items = 0;
  for (const auto& entry : std::filesystem::directory_iterator(data_directory() / "checklists")) {
    const std::string name = entry.path().filename().string();
    if (!name.ends_with(ending)) continue;
    const auto audible = audible_findings(name.substr(0, name.size() - ending.size()));
    const Checklist list = load_checklist(entry.path()).value();
    for (const ChecklistItem& i : list.items) {
      if (i.rule != RuleKind::kNotReported) continue;
      ++items;
      for (const std::string& id : i.findings) {
        EXPECT_FALSE(audible.contains(id)) << name << ": " << i.id << ": " << id << " is audible";
      }
    }
  }
  EXPECT_GE(items, 1);
}

TEST(Checklists, ARuleWithoutItsListIsRefused) {
  const auto wrong = parse_checklist(
      "title='t'\nstatus='s'\n[[item]]\nid='x'\ntext='y'\nrule='treated'\n", "c.toml");
  EXPECT_EQ(wrong.error().message, "c.toml:3: item x: rule treated needs the list treatments");
  EXPECT_FALSE(parse_checklist("title='t'\nstatus='s'\n[[item]]\nid='x'\ntext='y'\nrule='sung'\n",
                               "c.toml"));
}

const Performance& good() {
  static const Performance p = replay(done_well(), asthma(0.8), world().data()).value();
  return p;
}

double musical_s(const Performance& p) {
  double sum = 0.0;
  for (const Stay& stay : p.stays) {
    for (const HeardSound& heard : stay.heard) {
      const bool musical =
          heard.sound == exam::Sound::kWheeze || heard.sound == exam::Sound::kRhonchus;
      sum += musical ? heard.seconds : 0.0;
    }
  }
  return sum;
}

TEST(Replay, MusicalSoundsAreHeardInAsthmaAndNotInHealth) {
  const auto healthy = replay(done_well(), asthma(0.0), world().data());
  ASSERT_TRUE(healthy) << healthy.error().message;
  std::printf("audible wheeze and rhonchus: asthma %.1f s, healthy %.1f s\n", musical_s(good()),
              musical_s(*healthy));
  EXPECT_GT(musical_s(good()), 5.0);
  EXPECT_EQ(musical_s(*healthy), 0.0);
  EXPECT_EQ(good().monitor.size(), 121u);
}

TEST(Replay, IsTheSameEveryTime) {
  const auto* a = &good();
  const auto b = replay(done_well(), asthma(0.8), world().data());
  ASSERT_EQ(a->stays.size(), b->stays.size());
  for (std::size_t i = 0; i < a->stays.size(); ++i) {
    ASSERT_EQ(a->stays[i].heard.size(), b->stays[i].heard.size());
    for (std::size_t h = 0; h < a->stays[i].heard.size(); ++h) {
      EXPECT_EQ(a->stays[i].heard[h].seconds, b->stays[i].heard[h].seconds);
      EXPECT_EQ(a->stays[i].heard[h].loudest_db, b->stays[i].heard[h].loudest_db);
    }
  }
  EXPECT_EQ(a->monitor.back().shown.spo2_percent, b->monitor.back().shown.spo2_percent);
}

TEST(Replay, UnknownTreatmentNamesTheAction) {
  Script s;
  s.at(1, Treat{"oxgen", exam::Side::kMidline}).at(2, End{});
  const auto wrong = replay(s.log(), asthma(0.6), world().data());
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().message.find("action a0: "), std::string::npos);
  EXPECT_NE(wrong.error().message.find("oxygen"), std::string::npos);
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
  const auto p = replay(done_badly(), asthma(0.6), world().data());
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
  const Performance claimed = timeline_of(done_well(), world().sites, false);
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
  const Performance p = timeline_of(s.log(), world().sites, false);
  const MarkSheet sheet = mark(p, station(), world().sites);
  EXPECT_EQ(item(sheet, "bronchodilator").reason,
            "Gave inhaled bronchodilator at 400.0 s, after the 300.0 s allowed.");
  EXPECT_EQ(item(sheet, "bases").reason,
            "Not listened long enough at P9 (2.0 s) and P10 (2.0 s); 4.0 s at each is asked for.");
  EXPECT_TRUE(sheet.over_time);
  EXPECT_FALSE(mark(p, station(), world().sites, 0.25).over_time);
}

}  // namespace
}  // namespace phren::teaching
