#include <gtest/gtest.h>

#include <filesystem>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {
namespace fs = std::filesystem;

class RenderCommand : public testing::Test {
 protected:
  std::string file(const char* name) const { return folder_.file(name); }
  // Exit code 1 and `message` on standard error, nothing written.
  void expect_refused(std::vector<std::string> arguments, const std::string& message) const {
    SCOPED_TRACE(message);
    arguments.insert(arguments.begin(), "render");
    arguments.insert(arguments.end(), {"-o", file("refused.wav"), "--seconds", "1"});
    const Ran ran = run_phren(arguments);
    EXPECT_EQ(ran.code, kInputFailed);
    EXPECT_NE(ran.err.find(message), std::string::npos) << ran.err;
    EXPECT_FALSE(fs::exists(file("refused.wav")));
  }
  TemporaryFolder folder_;
};

TEST_F(RenderCommand, WritesSoundAtTheRateAndLengthAskedFor) {
  const Ran ran = run_phren({"render", "healthy_volunteer", "--site", "P9", "--seconds", "2",
                             "--rate", "11025", "-o", file("a.flac"), "--labels", file("a.txt")});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto audio = signal::read_audio(file("a.flac"));
  ASSERT_TRUE(audio) << audio.error().message;
  EXPECT_EQ(audio->sample_rate_hz, 11025.0);
  EXPECT_EQ(audio->samples.size(), 22050u);
  EXPECT_NE(read_file(file("a.txt")).value().find("normal"), std::string::npos);
}

TEST_F(RenderCommand, APlaceGivenByCoordinatesIsTheSiteThere) {
  const std::vector<std::string> common = {"--seconds", "1", "-o"};
  ASSERT_EQ(run_phren({"render", "healthy_volunteer", "--site", "F5", "--seconds", "1", "-o",
                       file("site.wav")})
                .code,
            kOk);
  const Ran ran = run_phren({"render", "healthy_volunteer", "--at", "-0.6,0.45,front", "--seconds",
                             "1", "-o", file("at.wav")});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  EXPECT_TRUE(read_file(file("site.wav")).value() == read_file(file("at.wav")).value());
}

TEST_F(RenderCommand, FaultsNameWhatIsWrongAndWhatWouldBeRight) {
  expect_refused({"astma", "--site", "F5"},
                 "case 'astma' is neither a file nor a prepared case. Did you mean 'asthma'?");
  expect_refused({"asthma", "--site", "F99"}, "site 'F99' is not in the site map.");
  expect_refused({"asthma"}, "one of --site and --at is needed");
  expect_refused({"asthma", "--at", "0.1,front"}, "--at is '0.1,front'; it must be two numbers");
  expect_refused({"asthma", "--at", "9,0,front"}, "--at is '9,0,front'; it must be two numbers");
  expect_refused({"asthma", "--at", "0,0,top"},
                 "--at: aspect is 'top'; it must be one of front, back,");
  expect_refused({"asthma", "--site", "F5", "--head", "cone"},
                 "--head is 'cone'; it must be one of diaphragm, bell, sensor");
}

TEST_F(RenderCommand, AMalformedCaseIsAnsweredWithItsLine) {
  const std::string bad = file("bad.toml");
  ASSERT_TRUE(write_file(bad,
                         "title = 'x'\nstory = 'y'\n[person]\nage_years = 30\nheight_cm = 999\n"
                         "weight_kg = 70\n"));
  expect_refused({bad, "--site", "F5"},
                 "bad.toml:5: [person] height_cm is 999; it must be a number between 40 and 220");
}

TEST_F(RenderCommand, APlaceThatCannotBeWrittenIsNamed) {
  const Ran ran = run_phren(
      {"render", "asthma", "--site", "F5", "--seconds", "1", "-o", file("no/such/folder/a.wav")});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_NE(ran.err.find("no/such/folder/a.wav"), std::string::npos) << ran.err;
}

}  // namespace
}  // namespace phren::app
