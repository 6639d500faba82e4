#include "exam/record.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <cstring>
#include <limits>

#include "base/random.h"

namespace phren::exam {
namespace {

Examination random_examination(RandomStream& random) {
  const auto number = [&] {
    return std::bit_cast<double>((random.bits() & ~(0x7FFull << 52)) |
                                 ((1010ull + random.below(18)) << 52));
  };
  Examination exam;
  exam.case_id = "case \"quoted\" \\ \n é";
  exam.seed = random.bits();
  exam.age_years = std::abs(number()) / 4096.0;
  exam.sex = random.chance(0.5) ? "female" : "male";
  exam.setting = "ems_adult";
  if (random.chance(0.5)) exam.vital_signs.spo2_percent = random.uniform(0, 100);
  if (random.chance(0.5)) exam.vital_signs.temperature_C = random.uniform(30, 42);
  for (std::uint32_t i = random.below(4); i > 0; --i) {
    exam.sites.push_back({"F" + std::to_string(i),
                          "audio/F.wav",
                          -std::abs(number()) / 4096.0,
                          {Sound::kWheeze, Sound::kVoice},
                          {"a", ""}});
  }
  for (std::uint32_t i = random.below(4); i > 0; --i) {
    Finding finding;
    finding.id = "wheeze";
    finding.presence = Presence::kAbsent;
    finding.basis = Basis::kMeasured;
    finding.side = Side::kLeft;
    finding.site_ids = {"F1", "F2"};
    if (random.chance(0.5)) finding.phase = Phase::kPause;
    finding.confidence = random.uniform();
    exam.findings.push_back(finding);
  }
  return exam;
}

bool same_bits(double a, double b) {
  return std::memcmp(&a, &b, sizeof a) == 0;
}

std::string error_of(std::string_view text) {
  const auto read = examination_from_json(text, "e.json");
  return read ? "no error" : read.error().message;
}

TEST(ExaminationRecord, ComesBackBitForBit) {
  constexpr std::uint64_t kSeed = 20;
  SCOPED_TRACE(kSeed);
  RandomStream random(Seed{kSeed}, "records");
  for (int i = 0; i < 500; ++i) {
    const Examination exam = random_examination(random);
    const auto back = examination_from_json(to_json(exam), "e.json");
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_EQ(back->seed, exam.seed);
    EXPECT_EQ(back->case_id, exam.case_id);
    EXPECT_TRUE(same_bits(back->age_years, exam.age_years));
    ASSERT_EQ(back->sites.size(), exam.sites.size());
    for (std::size_t s = 0; s < exam.sites.size(); ++s) {
      EXPECT_TRUE(same_bits(back->sites[s].level_db, exam.sites[s].level_db));
      EXPECT_EQ(back->sites[s].sounds, exam.sites[s].sounds);
    }
    ASSERT_EQ(back->findings.size(), exam.findings.size());
    for (std::size_t f = 0; f < exam.findings.size(); ++f) {
      EXPECT_TRUE(same_bits(back->findings[f].confidence, exam.findings[f].confidence));
      EXPECT_EQ(back->findings[f].phase, exam.findings[f].phase);
    }
    EXPECT_EQ(back->vital_signs.spo2_percent, exam.vital_signs.spo2_percent);
    EXPECT_EQ(to_json(*back), to_json(exam));  // whatever the lines above forget
  }
}

TEST(ExaminationRecord, EmptyRecordComesBack) {
  const auto back = examination_from_json(to_json(Examination{}), "e.json");
  ASSERT_TRUE(back) << back.error().message;
  EXPECT_EQ(to_json(*back), to_json(Examination{}));
}

TEST(ExaminationRecord, SilenceIsNullAndComesBack) {
  Examination exam;
  exam.sites.push_back({"F5", "", -std::numeric_limits<double>::infinity(), {}, {}});
  const std::string text = to_json(exam);
  EXPECT_NE(text.find("\"level_db\": null"), std::string::npos);
  EXPECT_TRUE(std::isinf(examination_from_json(text, "e").value().sites[0].level_db));
}

TEST(ExaminationRecord, LeftOutFieldsTakeTheirDefaults) {
  const auto exam = examination_from_json(
      R"({"schema_version": 1, "findings": [{"id": "wheeze", "presence": "present"}]})", "e.json");
  ASSERT_TRUE(exam) << exam.error().message;
  EXPECT_EQ(exam->age_years, 40.0);
  EXPECT_EQ(exam->findings[0].confidence, 1.0);
  EXPECT_EQ(exam->findings[0].side, Side::kMidline);
  EXPECT_FALSE(exam->vital_signs.spo2_percent);
}

TEST(ExaminationRecord, FaultsNameFilePlaceValueAndRange) {
  EXPECT_EQ(error_of("{\n  \"schema_version\": 1,\n  oops"),
            "e.json:3:3: is not JSON text; an examination record in JSON is needed "
            "(docs/examination.schema.json)");
  EXPECT_EQ(error_of("[]"), "e.json: / is []; it must be an object");
  EXPECT_EQ(error_of("{}"), "e.json: /schema_version is missing; it is required");
  EXPECT_EQ(error_of(R"({"schema_version": 2})"), "e.json: /schema_version is 2; it must be 1");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "age_years": -3})"),
            "e.json: /age_years is -3; it must be a number between 0 and 125");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "finding": 3})"),
            "e.json: /finding is not a field here. Did you mean 'findings'?");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "seed": -1})"),
            "e.json: /seed is -1; it must be a whole number from 0 to 18446744073709551615");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "vital_signs": {"spo2_percent": 101}})"),
            "e.json: /vital_signs/spo2_percent is 101; it must be a number between 0 and 100");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "findings": [{"id": "x", "presence": "maybe"}]})"),
            "e.json: /findings/0/presence is 'maybe'; it must be one of present, absent, unknown");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "findings": [{"presence": "absent"}]})"),
            "e.json: /findings/0/id is missing; it is required");
  EXPECT_EQ(error_of(R"({"schema_version": 1, "sites": [{"site_id": "F1", "sounds": ["hum"]}]})")
                .substr(0, 46),
            "e.json: /sites/0/sounds/0 is 'hum'; it must be");
}

TEST(ExaminationRecord, AnyByteFlippedGivesAValueOrAnErrorNeverACrash) {
  constexpr std::uint64_t kSeed = 7;
  SCOPED_TRACE(kSeed);
  RandomStream random(Seed{kSeed}, "flips");
  const std::string whole = to_json(random_examination(random));
  for (int i = 0; i < 3000; ++i) {
    std::string text =
        whole.substr(0, random.chance(0.2) ? random.below(static_cast<std::uint32_t>(whole.size()))
                                           : whole.size());
    for (std::uint32_t n = random.below(4); n > 0 && !text.empty(); --n) {
      text[random.below(static_cast<std::uint32_t>(text.size()))] =
          static_cast<char>(random.below(256));
    }
    const auto read = examination_from_json(text, "e.json");
    if (!read) {
      EXPECT_FALSE(read.error().message.empty());
    }
  }
}

}  // namespace
}  // namespace phren::exam
