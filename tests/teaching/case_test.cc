#include "teaching/case.h"

#include <gtest/gtest.h>

#include "base/files.h"
#include "base/random.h"

namespace phren::teaching {
namespace {

const CaseVocabulary kWords{{"asthma", "pneumothorax", "lobar_pneumonia"},
                            {"dyspnoea", "cough", "leg_oedema"},
                            {"oxygen", "chest_seal"}};

constexpr std::string_view kWhole = R"(title = "T"
story = "S"
teaching_points = ["one", "two"]
setting = "clinic"
posture = "lying"
clothing = "jacket"
room = "ambulance_siren"

[person]
age_years = 70
sex = "male"
height_cm = 180
weight_kg = 90
muscle = 0.5

[[condition]]
id = "pneumothorax"
severity = 0.25
side = "left"

[[condition]]
id = "lobar_pneumonia"
severity = 1
lobe = "rml"

[told]
present = ["dyspnoea"]
seen_absent = ["leg_oedema"]
)";

std::string replaced(std::string_view from, std::string_view to) {
  std::string text(kWhole);
  const std::size_t at = text.find(from);
  EXPECT_NE(at, text.npos) << from;
  return text.replace(at, from.size(), to);
}

std::string error_of(const std::string& text) {
  const auto read = parse_case(text, "c.toml", kWords);
  return read ? "no error" : read.error().message;
}

TEST(Case, EveryFieldIsRead) {
  const auto read = parse_case(kWhole, "folder/some_case.toml", kWords);
  ASSERT_TRUE(read) << read.error().message;
  EXPECT_EQ(read->id, "some_case");
  EXPECT_EQ(read->title, "T");
  EXPECT_EQ(read->teaching_points.size(), 2u);
  EXPECT_EQ(read->setting, "clinic");
  EXPECT_EQ(read->patient.posture, patient::Posture::kLying);
  EXPECT_EQ(read->clothing, bedside::Clothing::kJacket);
  EXPECT_EQ(read->room, acoustics::Surroundings::kSiren);
  EXPECT_EQ(read->patient.person.sex, patient::Sex::kMale);
  EXPECT_EQ(read->patient.person.weight_kg, 90.0);
  ASSERT_EQ(read->patient.conditions.size(), 2u);
  EXPECT_EQ(read->patient.conditions[0].side, exam::Side::kLeft);
  EXPECT_EQ(read->patient.conditions[0].lobe, -1);
  EXPECT_EQ(read->patient.conditions[1].lobe, static_cast<int>(exam::Lobe::kRml));
  ASSERT_EQ(read->told.size(), 2u);
  EXPECT_EQ(read->told[0].presence, exam::Presence::kPresent);
  EXPECT_EQ(read->told[0].basis, exam::Basis::kAsked);
  EXPECT_EQ(read->told[1].presence, exam::Presence::kAbsent);
  EXPECT_EQ(read->told[1].basis, exam::Basis::kSeen);
}

TEST(Case, FaultsNameFileLineFieldValueAndRange) {
  EXPECT_EQ(error_of(replaced("age_years = 70", "age_years = 700")),
            "c.toml:10: [person] age_years is 700; it must be a number between 0 and 110");
  EXPECT_EQ(error_of(replaced("age_years = 70", "age_years = \"old\"")),
            "c.toml:10: [person] age_years is 'old'; it must be a number between 0 and 110");
  EXPECT_EQ(error_of(replaced("age_years = 70", "age_years = nan")).substr(0, 40),
            "c.toml:10: [person] age_years is nan; it");
  EXPECT_EQ(error_of(replaced("age_years = 70\n", "")),
            "c.toml:9: [person] age_years is missing; it is required");
  EXPECT_EQ(error_of(replaced("age_years", "age_year")),
            "c.toml:10: [person] 'age_year' is not a field here. Did you mean 'age_years'?");
  EXPECT_EQ(error_of(replaced("severity = 0.25", "severity = -0.1")),
            "c.toml:18: [[condition]] severity is -0.1; it must be a number between 0 and 1");
  EXPECT_EQ(error_of(replaced("side = \"left\"", "side = \"up\"")),
            "c.toml:19: [[condition]] side is 'up'; it must be right or left");
  EXPECT_EQ(error_of(replaced("lobe = \"rml\"", "lobe = \"rml\"\nside = \"left\"")),
            "c.toml:24: [[condition]] lobe is 'rml'; it must be a lobe of the left side, as `side` "
            "says");
  EXPECT_EQ(error_of(replaced("id = \"pneumothorax\"", "id = \"pneumotorax\"")),
            "c.toml:17: [[condition]] id 'pneumotorax' is not a condition. Did you mean "
            "'pneumothorax'? `phren conditions` lists all.");
  EXPECT_EQ(error_of(replaced("\"dyspnoea\"", "\"dyspnea\"")),
            "c.toml:27: [told] present: 'dyspnea' is not a finding. Did you mean 'dyspnoea'?");
  EXPECT_EQ(error_of(replaced("room = \"ambulance_siren\"", "room = \"loud\"")),
            "c.toml:7: room is 'loud'; it must be one of quiet, ward, street, ambulance, "
            "ambulance_siren, helicopter");
  EXPECT_EQ(error_of(replaced("setting = \"clinic\"", "setting = 3")),
            "c.toml:4: setting is 3; it must be a word in quotes");
  EXPECT_EQ(error_of("title = "),
            "c.toml:1: Error while parsing key-value pair: encountered end-of-file");
  EXPECT_EQ(error_of(""), "c.toml:1: title is missing; it is required");
  EXPECT_EQ(error_of("title='a'\nstory='b'\nperson = 3"),
            "c.toml:3: person is 3; it must be a table, [person]");
  EXPECT_EQ(error_of("condition = 3\ntitle='a'\nstory='b'\n[person]\nage_years=1\nheight_cm=80\n"
                     "weight_kg=10"),
            "c.toml:1: condition is 3; it must be a list of tables, [[condition]]");
}

TEST(Case, WhatWasGivenBeforeIsRead) {
  const std::string given = std::string(kWhole) +
                            "[[treatment]]\nid = \"chest_seal\"\nside = \"left\"\n" +
                            "minutes_before = 2.5\n";
  const auto read = parse_case(given, "c.toml", kWords);
  ASSERT_TRUE(read) << read.error().message;
  ASSERT_EQ(read->patient.treatments.size(), 1u);
  EXPECT_EQ(read->patient.treatments[0].id, "chest_seal");
  EXPECT_EQ(read->patient.treatments[0].side, exam::Side::kLeft);
  EXPECT_EQ(read->patient.treatments[0].minutes_before, 2.5);
  EXPECT_EQ(error_of(std::string(kWhole) + "[[treatment]]\nid = \"oxigen\"\nminutes_before = 1"),
            "c.toml:30: [[treatment]] id 'oxigen' is not a treatment. Did you mean 'oxygen'? "
            "data/treatments holds all.");
  EXPECT_EQ(error_of(std::string(kWhole) + "[[treatment]]\nid = \"oxygen\""),
            "c.toml:29: [[treatment]] minutes_before is missing; it is required");
}

TEST(Case, AMissingFileAndAnUnknownIdAreNamed) {
  const auto missing = load_case("/no/such.toml", kWords);
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().message, "/no/such.toml: no such file");
  const auto unknown = find_case("astma", data_directory());
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().message.substr(0, 76),
            "case 'astma' is neither a file nor a prepared case. Did you mean 'asthma'? `");
}

TEST(Case, AnyByteFlippedGivesACaseOrAnErrorNeverACrash) {
  constexpr std::uint64_t kSeed = 11;
  SCOPED_TRACE(kSeed);
  RandomStream random(Seed{kSeed}, "flips");
  for (int i = 0; i < 2000; ++i) {
    std::string text(kWhole.substr(0, random.chance(0.2)
                                          ? random.below(static_cast<std::uint32_t>(kWhole.size()))
                                          : kWhole.size()));
    for (std::uint32_t n = random.below(4); n > 0 && !text.empty(); --n) {
      text[random.below(static_cast<std::uint32_t>(text.size()))] =
          static_cast<char>(random.below(256));
    }
    const auto read = parse_case(text, "c.toml", kWords);
    if (!read) {
      EXPECT_EQ(read.error().message.substr(0, 7), "c.toml:");
    }
  }
}

}  // namespace
}  // namespace phren::teaching
