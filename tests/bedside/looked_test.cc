#include "bedside/looked.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/files.h"
#include "bedside/script.h"
#include "bedside/words.h"

namespace phren::bedside {
namespace {

using namespace testing;
using exam::Presence;
using exam::Side;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::Field;
using ::testing::IsEmpty;
using ::testing::Not;

Report seen(const std::string& id, Presence presence = Presence::kPresent,
            Side side = Side::kMidline) {
  Report out = report(id, presence);
  out.finding.basis = exam::Basis::kSeen;
  out.finding.side = side;
  return out;
}

Setup right_pneumothorax() {
  patient::PatientSetup body;
  body.person = {34, patient::Sex::kMale, 182, 70, 0.3};
  patient::ConditionUse use;
  use.id = "pneumothorax";
  use.severity = 0.9;
  use.side = Side::kRight;
  body.conditions.push_back(use);
  return prepare(body, {Clothing::kBare}, {}, world().conditions, world().treatments,
                 &world().instruments)
      .value();
}

Performance lived(const Script& script) {
  return replay(script.log(), right_pneumothorax(), world().sites).value();
}

TEST(Looked, ASignIsJudgedByWhatIsThereAndOnWhichSide) {
  Script s;
  s.at(20, seen("asymmetric_chest_rise", Presence::kPresent, Side::kRight));
  s.at(21, seen("asymmetric_chest_rise", Presence::kPresent, Side::kLeft));
  s.at(22, seen("asymmetric_chest_rise"));
  s.at(23, seen("urticaria")).at(24, seen("angioedema", Presence::kAbsent)).at(25, End{});
  const auto looks = lived(s).looks.all();
  ASSERT_EQ(looks.size(), 5u);
  EXPECT_EQ(judge_look(looks[0]).verdict, MarkVerdict::kRight) << judge_look(looks[0]).reason;
  EXPECT_EQ(judge_look(looks[1]).verdict, MarkVerdict::kWrong);
  EXPECT_EQ(judge_look(looks[1]).reason, "It was on the right.");
  EXPECT_EQ(judge_look(looks[2]).verdict, MarkVerdict::kNearly);
  EXPECT_EQ(judge_look(looks[3]).verdict, MarkVerdict::kWrong);
  EXPECT_EQ(judge_look(looks[4]).verdict, MarkVerdict::kRight);
}

TEST(Looked, SayingThatASignIsAbsentIsWrongWhenItIsThere) {
  Script s;
  s.at(20, seen("asymmetric_chest_rise", Presence::kAbsent)).at(21, End{});
  const auto looks = lived(s).looks.all();
  ASSERT_EQ(looks.size(), 1u);
  EXPECT_EQ(judge_look(looks[0]).verdict, MarkVerdict::kWrong);
}

// A treatment takes the sign away: each look counts by its own moment.
TEST(Looked, TheMomentOfTheLookCounts) {
  Script s;
  s.at(20, seen("asymmetric_chest_rise", Presence::kPresent, Side::kRight));
  s.at(25, Treat{"needle_decompression", Side::kRight}).at(26, End{});
  const Performance p = lived(s);
  ASSERT_EQ(p.looks.all().size(), 1u);
  EXPECT_EQ(judge_look(p.looks.all()[0]).verdict, MarkVerdict::kRight);
  EXPECT_FALSE(p.at_the_end.empty());
}

TEST(Looked, WhoWasToldOrTookItBackIsNotJudged) {
  Script s;
  s.at(20, seen("cyanosis")).at(21, seen("cyanosis", Presence::kUnknown));
  s.at(22, Examine{Look::kLook, "asymmetric_chest_rise", ""});
  s.at(23, seen("asymmetric_chest_rise", Presence::kPresent, Side::kRight));
  s.at(24, report("pallor")).at(25, End{});  // by ear: no look
  const Performance p = lived(s);
  EXPECT_THAT(p.looks.all(), IsEmpty());
  EXPECT_THAT(missed_looks(p.looks, p.at_the_end),
              Not(Contains(Field(&MissedFinding::finding_id, "asymmetric_chest_rise"))));
}

TEST(Looked, WhatIsThereAndNotNamedIsMissed) {
  Script s;
  s.at(20, End{});
  const Performance p = lived(s);
  EXPECT_THAT(missed_looks(p.looks, p.at_the_end),
              Contains(AllOf(Field(&MissedFinding::finding_id, "asymmetric_chest_rise"),
                             Field(&MissedFinding::side, Side::kRight))));
}

// A baby has no posture on the hands: neither right nor wrong.
TEST(Looked, WhatABodyCannotShowIsNotJudged) {
  LookedAt look;
  look.said = seen("tripod_position").finding;
  EXPECT_EQ(judge_look(look).verdict, MarkVerdict::kNotJudged);
}

TEST(Looked, EverySignHasItsFinding) {
  const std::string findings = read_file(data_directory() / "findings.toml").value();
  for (const SeenAt& one : kSeenAt) {
    EXPECT_NE(findings.find("id = \"" + std::string(one.finding_id) + "\""), std::string::npos)
        << one.finding_id;
  }
}

}  // namespace
}  // namespace phren::bedside
