#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {

using ::testing::HasSubstr;

// The example of docs/formats/encounter.md, with a tap and a reading.
constexpr const char* kLog =
    R"({"phren":"encounter","version":1,"encounter":"e-7c1","case":"asthma","seed":"42"}
{"id":"a1","t":2.5,"do":"expose","part":"all"}
{"id":"a2","t":6.0,"do":"place","aspect":"back","u":-0.4,"v":0.85,"pressure":0.6}
{"id":"a3","t":14.2,"do":"place","aspect":"back","u":0.4,"v":0.85,"pressure":0.6}
{"id":"a4","t":23.0,"do":"lift"}
{"id":"a5","t":23.5,"do":"tap","aspect":"back","u":-0.4,"v":0.85}
{"id":"a6","t":24.0,"do":"measure","vital":"respiratory_rate_per_min","value":24}
{"id":"a7","t":25.0,"do":"report","finding":"wheeze","presence":"present","basis":"heard"}
{"id":"a8","t":30.0,"do":"end"}
)";

std::string log_in(const TemporaryFolder& folder) {
  const std::string file = folder.file("e.encounter.jsonl");
  EXPECT_TRUE(write_file(file, kLog));
  return file;
}

TEST(ReplayCommand, TellsWhatWasHeardWhereAndMarksIt) {
  const TemporaryFolder folder;
  const Ran ran = run_phren({"replay", log_in(folder), "--checklist", "asthma_station", "--json"});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto json = nlohmann::json::parse(ran.out);
  ASSERT_EQ(json["stays"].size(), 2u);
  EXPECT_NEAR(json["stays"][0]["end_s"].get<double>(), 14.2, 1e-9);
  EXPECT_THAT(json["stays"][0]["heard"].dump(), HasSubstr("wheeze"));
  EXPECT_EQ(json["reports"][0]["finding"], "wheeze");
  for (const auto& item : json["mark"]["items"]) {
    if (item["id"] == "finds_wheeze") {
      EXPECT_EQ(item["verdict"], "met");
    }
  }
}

TEST(ReplayCommand, WritesTheSoundOfAPartAndHearsTheTapAfterTheLift) {
  const TemporaryFolder folder;
  const std::string wav = folder.file("heard.wav");
  const Ran ran = run_phren({"replay", log_in(folder), "--sound", wav, "--from", "23.25", "--to",
                             "24", "--rate", "16000"});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto sound = signal::read_audio(wav);
  ASSERT_TRUE(sound) << sound.error().message;
  EXPECT_EQ(sound->samples.size(), 12000u);
  double before = 0.0, after = 0.0;
  for (std::size_t i = 0; i < 12000; ++i) {
    const double power = double{sound->samples[i]} * double{sound->samples[i]};
    (i < 4000 ? before : after) += power;
  }
  EXPECT_GT(after, 10.0 * before);
}

TEST(ReplayCommand, NamesTheLineOfABadLog) {
  const TemporaryFolder folder;
  const std::string file = folder.file("bad.encounter.jsonl");
  ASSERT_TRUE(write_file(file, std::string(kLog) + "{\"id\":\"b\",\"t\":1,\"do\":\"lift\"}\n"));
  const Ran ran = run_phren({"replay", file});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_THAT(ran.err, HasSubstr("10"));
  EXPECT_THAT(ran.err, HasSubstr("end"));
}

}  // namespace
}  // namespace phren::app
