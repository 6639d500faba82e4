// Every specimen holds what its entry promises, and the command makes it.
#include "app/specimen/specimen.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "app/run.h"
#include "base/files.h"

namespace phren::app {
namespace {

using ::testing::HasSubstr;

Specimens all_specimens() {
  auto loaded = Specimens::load(data_directory() / "acoustics_specimens.toml");
  EXPECT_TRUE(loaded) << loaded.error().message;
  return std::move(*loaded);
}

TEST(Specimens, EachHoldsItsSoundInItsPhase) {
  const Specimens specimens = all_specimens();
  for (const Specimen& s : specimens.all()) {
    SCOPED_TRACE(s.id);
    if (!s.sound) continue;
    const auto made = make_specimen(s, Seed{3}, 8000.0, data_directory());
    ASSERT_TRUE(made) << made.error().message;
    double in_phase = 0.0, elsewhere = 0.0;
    for (const auto& e : made->truth) {
      if (e.sound != *s.sound || !e.audible) continue;
      (!s.phase || e.phase == *s.phase ? in_phase : elsewhere) += e.end_s - e.start_s;
    }
    EXPECT_GT(in_phase, 0.0);
    EXPECT_GT(in_phase, elsewhere);
  }
}

double audible_s(const std::vector<acoustics::TruthEvent>& truth, exam::Sound sound) {
  double sum = 0.0;
  for (const auto& e : truth) {
    if (e.audible && e.sound == sound) sum += e.end_s - e.start_s;
  }
  return sum;
}

// What a drill calls "diminished" or "absent" must not sing or crackle, and what it calls coarse
// must not be mostly fine.
TEST(Specimens, HoldNothingThatContradictsTheirName) {
  const Specimens specimens = all_specimens();
  for (const std::uint64_t seed : {3u, 4u, 5u, 6u}) {
    for (const char* id : {"diminished", "absent"}) {
      const auto made = make_specimen(*specimens.find(id), Seed{seed}, 8000.0, data_directory());
      ASSERT_TRUE(made) << made.error().message;
      for (const auto& e : made->truth) {
        EXPECT_TRUE(!e.audible || e.sound == exam::Sound::kNormal || e.sound == exam::Sound::kHeart)
            << id << ": " << static_cast<int>(e.sound);
      }
    }
    const auto coarse =
        make_specimen(*specimens.find("coarse_crackles"), Seed{seed}, 8000.0, data_directory());
    ASSERT_TRUE(coarse) << coarse.error().message;
    EXPECT_GT(audible_s(coarse->truth, exam::Sound::kCoarseCrackle),
              4.0 * audible_s(coarse->truth, exam::Sound::kFineCrackle));
    const auto silent =
        make_specimen(*specimens.find("silent_chest"), Seed{seed}, 8000.0, data_directory());
    ASSERT_TRUE(silent) << silent.error().message;
    EXPECT_EQ(audible_s(silent->truth, exam::Sound::kWheeze), 0.0);
  }
}

TEST(Specimens, SameSeedGivesTheSameSound) {
  const auto s = all_specimens().find("normal");
  ASSERT_TRUE(s);
  const auto a = make_specimen(*s, Seed{9}, 8000.0, data_directory());
  const auto b = make_specimen(*s, Seed{9}, 8000.0, data_directory());
  ASSERT_TRUE(a && b);
  EXPECT_EQ(a->audio.samples, b->audio.samples);
}

TEST(Specimens, AnUnknownOneNamesTheNearest) {
  const auto s = all_specimens().find("strider");
  ASSERT_FALSE(s);
  EXPECT_THAT(s.error().message, HasSubstr("Did you mean 'stridor'?"));
}

TEST(Specimens, ABadFieldIsNamedWithItsLineAndRange) {
  const auto parsed = Specimens::parse(
      "\n[[specimen]]\nid = \"x\"\nname = \"x\"\nmechanism = \"x\"\n"
      "listen = \"x\"\nsource = \"x\"\nstatus = \"x\"\n"
      "site = \"F5\"\ncondition = \"asthma\"\nseverity = 3.0\n",
      "specimens.toml");
  ASSERT_FALSE(parsed);
  EXPECT_THAT(parsed.error().message, HasSubstr("specimens.toml:11: specimen x"));
  EXPECT_THAT(parsed.error().message, HasSubstr("severity is 3"));
  const auto word = Specimens::parse(
      "[[specimen]]\nid = \"x\"\nname = \"x\"\nmechanism = \"x\"\n"
      "listen = \"x\"\nsource = \"x\"\nstatus = \"x\"\n"
      "site = \"F5\"\ncondition = \"asthma\"\nmanoeuvre = \"jump\"\n",
      "specimens.toml");
  ASSERT_FALSE(word);
  EXPECT_THAT(word.error().message,
              HasSubstr("one of breathe_normally, breathe_deeply, hold_breath"));
}

TEST(SpecimenCommand, WritesSoundAndLabels) {
  const auto folder = std::filesystem::temp_directory_path() / "phren_specimen_test";
  std::filesystem::create_directories(folder);
  const Ran ran = run_phren({"specimen", "stridor", "--seconds", "4", "--out",
                             (folder / "s.wav").string(), "--labels", (folder / "s.txt").string()});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("stridor, inspiration"));
  const auto labels = read_file(folder / "s.txt");
  ASSERT_TRUE(labels);
  EXPECT_THAT(*labels, HasSubstr("stridor inspiration"));
  EXPECT_GT(std::filesystem::file_size(folder / "s.wav"), 100000u);
}

TEST(SpecimenCommand, AnUnknownKindIsAnErrorThatHelps) {
  const Ran ran = run_phren({"specimen", "wheaze"});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_THAT(ran.err, HasSubstr("Did you mean 'wheeze'?"));
}

// The kept page has a chapter and a picture for every specimen; figures in it move with the body
// model and are written again by `phren specimen document`.
TEST(SoundsDocument, ShowsEverySpecimen) {
  const auto docs = data_directory() / ".." / "docs";
  const auto page = read_file(docs / "sounds.md");
  ASSERT_TRUE(page);
  const Specimens specimens = all_specimens();
  for (const Specimen& s : specimens.all()) {
    EXPECT_THAT(*page, HasSubstr("`phren specimen " + s.id + "`"));
    const auto picture = read_file(docs / "sounds" / (s.id + ".png"));
    ASSERT_TRUE(picture) << s.id;
    EXPECT_EQ(picture->substr(1, 3), "PNG");
  }
}

TEST(SoundsDocument, IsWrittenWithOnePictureEach) {
  const auto folder = std::filesystem::temp_directory_path() / "phren_sounds_test";
  const Ran ran = run_phren({"specimen", "document", "--out", folder.string()});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto page = read_file(folder / "sounds.md");
  ASSERT_TRUE(page);
  EXPECT_THAT(*page, HasSubstr("stridor, inspiration"));
  const Specimens specimens = all_specimens();
  for (const Specimen& s : specimens.all()) {
    EXPECT_TRUE(std::filesystem::exists(folder / "sounds" / (s.id + ".png"))) << s.id;
  }
}

}  // namespace
}  // namespace phren::app
