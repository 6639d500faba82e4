#include <gtest/gtest.h>

#include "base/files.h"
#include "base/random.h"
#include "bedside/log_text.h"
#include "bedside/performance.h"

namespace phren::bedside {
namespace {

constexpr const char* kHeader =
    R"({"phren":"encounter","version":1,"encounter":"e-1","case":"asthma","seed":"18446744073709551615"})"
    "\n";

exam::SiteMap sites() {
  return exam::SiteMap::load(data_directory() / "sites.toml").value();
}

EncounterLog one_of_each() {
  EncounterLog log;
  log.header = {1, "e-1", "asthma", 42, "0.1.0", "2026-11-25T08:00:00Z"};
  exam::Finding finding{"wheeze",
                        exam::Presence::kPresent,
                        exam::Basis::kHeard,
                        exam::Side::kLeft,
                        {"P10"},
                        exam::Phase::kExpiration,
                        0.9,
                        "high, long"};
  const Deed deeds[] = {Expose{exam::Aspect::kBack},
                        Expose{},
                        Cover{},
                        TurnHead{Head::kBell},
                        Place{{exam::Aspect::kBack, -0.45, 0.82}, 0.7},
                        Lift{},
                        Instruct{Manoeuvre::kVowel, 5.0},
                        SetPosture{patient::Posture::kReclined},
                        Examine{Look::kPercuss, "dull_percussion", "P9"},
                        Measure{"spo2_percent"},
                        Treat{"needle_decompression", exam::Side::kRight},
                        StopTreatment{"oxygen"},
                        Report{finding},
                        Rank{{"asthma", "croup"}},
                        Say{"short of breath, \"tight\"\n"},
                        Listen{acoustics::Realness::kPatient, "phone", {"heart", "clicks"}},
                        End{}};
  double time_s = 0.0;
  for (const Deed& deed : deeds) {
    time_s += 1.25;
    log.actions.push_back({"a" + std::to_string(log.actions.size()), time_s, deed});
  }
  return log;
}

TEST(EncounterLog, EveryActionComesBackFromItsText) {
  const std::string text = to_text(one_of_each());
  const auto parsed = parse_log(text, "e.jsonl");
  ASSERT_TRUE(parsed) << parsed.error().message;
  EXPECT_EQ(to_text(parsed->log), text);
  EXPECT_EQ(parsed->whole_bytes, text.size());
  EXPECT_FALSE(parsed->torn_tail);
  for (std::size_t i = 0; i < parsed->log.actions.size(); ++i) {
    EXPECT_EQ(parsed->log.actions[i].deed.index(), one_of_each().actions[i].deed.index());
  }
}

TEST(EncounterLog, SeedKeepsAll64Bits) {
  const auto parsed = parse_log(kHeader, "e.jsonl");
  ASSERT_TRUE(parsed) << parsed.error().message;
  EXPECT_EQ(parsed->log.header.seed, UINT64_MAX);
}

TEST(EncounterLog, ATornLastLineIsLeftOutAndReported) {
  const std::string text = to_text(one_of_each());
  for (std::size_t cut = 1; cut < 30; ++cut) {
    const auto parsed = parse_log(text.substr(0, text.size() - cut), "e.jsonl");
    ASSERT_TRUE(parsed) << parsed.error().message;
    EXPECT_TRUE(parsed->torn_tail);
    EXPECT_EQ(parsed->log.actions.size(), one_of_each().actions.size() - 1);
    // Appending the missing action to the whole part gives the log back.
    const std::string mended =
        text.substr(0, parsed->whole_bytes) + to_line(one_of_each().actions.back());
    EXPECT_EQ(mended, text);
  }
}

TEST(EncounterLog, ARepeatedLineCountsOnceAndAReusedIdIsAnError) {
  const std::string line = R"({"id":"a","t":1,"do":"lift"})"
                           "\n";
  const auto twice = parse_log(kHeader + line + line, "e.jsonl");
  ASSERT_TRUE(twice) << twice.error().message;
  EXPECT_EQ(twice->log.actions.size(), 1u);
  EXPECT_EQ(twice->repeated, 1u);
  const auto reused = parse_log(kHeader + line +
                                    R"({"id":"a","t":2,"do":"lift"})"
                                    "\n",
                                "e.jsonl");
  EXPECT_EQ(reused.error().message, "e.jsonl:3: id a was used before for another action");
}

struct BadLine {
  const char* line;
  const char* message;
};

TEST(EncounterLog, ErrorsNameLineFieldValueAndWhatIsAllowed) {
  const BadLine cases[] = {
      {R"({"id":"a","t":-1,"do":"lift"})",
       "e.jsonl:2: t is -1; it must be seconds between 0 and 14400"},
      {R"({"id":"a b","t":1,"do":"lift"})",
       "e.jsonl:2: id is \"a b\"; it must be 1 to 64 letters, digits, - or _, in quotes"},
      {R"({"id":"a","t":1,"do":"lfit"})",
       "e.jsonl:2: do is \"lfit\"; it must be an action of docs/formats/encounter.md. Did you mean "
       "'lift'?"},
      {R"({"id":"a","t":1,"do":"lift","force":1})",
       "e.jsonl:2: lift: field 'force' is not known here."},
      {R"({"id":"a","t":1,"do":"place","aspect":"back","u":3,"v":0})",
       "e.jsonl:2: place: u is 3; it must be a number between -2.0 and 2.0"},
      {R"({"id":"a","t":1,"do":"head","head":"drum"})",
       "e.jsonl:2: head: head is 'drum'; it must be one of diaphragm, bell"},
      {R"({"id":"a","t":1,"do":"treat"})",
       "e.jsonl:2: treat: treatment is missing; it must be given"},
      {"[1,2]", "e.jsonl:2: is not one JSON object"},
      {"", "e.jsonl:2: is not one JSON object"},
  };
  for (const BadLine& bad : cases) {
    const auto parsed = parse_log(std::string(kHeader) + bad.line + "\n", "e.jsonl");
    ASSERT_FALSE(parsed) << bad.line;
    EXPECT_EQ(parsed.error().message, bad.message);
  }
}

TEST(EncounterLog, TimeNeverRunsBackwardsAndNothingFollowsTheEnd) {
  const auto back = parse_log(std::string(kHeader) + R"({"id":"a","t":5,"do":"lift"})"
                                                     "\n"
                                                     R"({"id":"b","t":4,"do":"lift"})"
                                                     "\n",
                              "e.jsonl");
  EXPECT_EQ(back.error().message,
            "e.jsonl:3: t is 4; it must be at least the time of the action before it, 5.0 s");
  const auto after = parse_log(std::string(kHeader) + R"({"id":"a","t":5,"do":"end"})"
                                                      "\n"
                                                      R"({"id":"b","t":6,"do":"lift"})"
                                                      "\n",
                               "e.jsonl");
  EXPECT_EQ(after.error().message, "e.jsonl:3: stands after the action \"end\"");
}

TEST(EncounterLog, AnotherVersionIsRefused) {
  const auto parsed =
      parse_log(R"({"phren":"encounter","version":2,"encounter":"e","case":"c","seed":"1"})"
                "\n",
                "e.jsonl");
  EXPECT_EQ(parsed.error().code, ErrorCode::kUnsupported);
  EXPECT_EQ(parsed.error().message, "e.jsonl:1: version is 2; this program reads version 1");
}

// Whatever bytes come in, the answer is a log or an error with a line number; never a crash.
TEST(EncounterLog, DamagedTextGivesAnErrorOrALog) {
  constexpr std::uint64_t kSeed = 77;
  RandomStream random(Seed{kSeed}, "damage");
  const std::string text = to_text(one_of_each());
  int refused = 0;
  for (int run = 0; run < 4000; ++run) {
    std::string damaged = text;
    const std::uint32_t hits = 1 + random.below(4);
    for (std::uint32_t i = 0; i < hits; ++i) {
      damaged[random.below(static_cast<std::uint32_t>(damaged.size()))] =
          static_cast<char>(random.below(256));
    }
    const auto parsed = parse_log(damaged, "e.jsonl");
    if (parsed) continue;
    ++refused;
    EXPECT_EQ(parsed.error().message.substr(0, 8), "e.jsonl:");
  }
  EXPECT_GT(refused, 2000) << "seed " << kSeed;
}

TEST(EncounterLog, DeepNestingIsRefused) {
  std::string deep = R"({"id":"a","t":1,"do":"say","text":)";
  for (int i = 0; i < 2000; ++i) deep += "[";
  for (int i = 0; i < 2000; ++i) deep += "]";
  EXPECT_FALSE(parse_log(kHeader + deep + "}\n", "e.jsonl"));
}

TEST(NearestSite, ExactPlaceIsTheSiteAndAFarPlaceIsNone) {
  const auto map = sites();
  for (const exam::Site& site : map.all()) EXPECT_EQ(nearest_site(map, site.at), site.id);
  EXPECT_EQ(nearest_site(map, {exam::Aspect::kBack, 0.0, 1.4}), "");
}

TEST(Timeline, StaysSplitWhenClothingOrHeadChanges) {
  EncounterLog log;
  const auto add = [&](double time_s, Deed deed) {
    log.actions.push_back({"a" + std::to_string(log.actions.size()), time_s, std::move(deed)});
  };
  const auto map = sites();
  add(1.0, Place{map.find("P9")->at});
  add(4.0, Expose{exam::Aspect::kBack});
  add(9.0, TurnHead{Head::kBell});
  add(10.0, Place{map.find("P10")->at});
  add(15.0, Lift{});
  add(20.0, End{});
  const Performance p = timeline_of(log, map, Clothing::kShirt);
  ASSERT_EQ(p.stays.size(), 4u);
  EXPECT_TRUE(p.stays[0].through_clothing);
  EXPECT_FALSE(p.stays[1].through_clothing);
  EXPECT_DOUBLE_EQ(p.stays[1].seconds(), 5.0);
  EXPECT_EQ(p.stays[2].head, Head::kBell);
  EXPECT_EQ(p.stays[3].site_id, "P10");
  EXPECT_DOUBLE_EQ(p.stays[3].end_s, 15.0);
  EXPECT_DOUBLE_EQ(p.end_s, 20.0);
  EXPECT_FALSE(timeline_of(log, map, Clothing::kBare).stays[0].through_clothing);
}

TEST(Timeline, ALaterReportReplacesTheEarlierOneOfTheSameSide) {
  EncounterLog log;
  exam::Finding f;
  f.id = "wheeze";
  f.presence = exam::Presence::kPresent;
  log.actions.push_back({"a", 1.0, Report{f}});
  f.presence = exam::Presence::kAbsent;
  log.actions.push_back({"b", 2.0, Report{f}});
  const Performance p = timeline_of(log, sites(), Clothing::kBare);
  ASSERT_EQ(p.last_reports.size(), 1u);
  EXPECT_EQ(p.last_reports[0].action_id, "b");
}

}  // namespace
}  // namespace phren::bedside
