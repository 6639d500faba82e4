// `phren compare`: the difference that was put in comes out, with its uncertainty, in words.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "measurement/sounds.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {

using ::testing::HasSubstr;

class CompareCommand : public testing::Test {
 protected:
  // Breaths, made `gain` times as loud.
  std::string made(const std::string& name, float gain, std::uint64_t seed) {
    auto x = measurement::test::breathing(30.0, 15.0, 8.0, seed);
    for (float& v : x) v *= gain;
    const auto path = folder_.path() / name;
    EXPECT_TRUE(
        signal::write_audio(path, {measurement::kWorkRate_hz, x}, signal::SampleFormat::kFloat));
    return path.string();
  }
  TemporaryFolder folder_;
};

TEST_F(CompareCommand, TwelveDecibelsAreTwelveDecibelsInEveryBandAndPhase) {
  const Ran ran =
      run_phren({"compare", "--json", made("right.wav", 0.251189f, 4), made("left.wav", 1.0f, 4)});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  const auto json = nlohmann::json::parse(ran.out);
  EXPECT_EQ(json["first"], "right");
  EXPECT_NEAR(json["inspiration_150_600_hz"]["difference_db"].get<double>(), -12.0, 0.2);
  ASSERT_EQ(json["bands"].size(), 5u);
  for (const auto& band : json["bands"])
    for (const char* phase : {"inspiration", "expiration"}) {
      EXPECT_NEAR(band[phase]["difference_db"].get<double>(), -12.0, 0.3) << band;
      EXPECT_TRUE(band[phase]["clear"]);
      EXPECT_GE(band[phase]["sd_db"].get<double>(), 2.0);  // place and pressure alone
    }
  EXPECT_THAT(json["words"].get<std::string>(), HasSubstr("right is 12 dB softer"));
  EXPECT_THAT(json["meaning"].get<std::string>(), HasSubstr("less air moves"));
}

TEST_F(CompareCommand, AlikeSidesAreCalledEquallyLoud) {
  const Ran ran = run_phren({"compare", made("a.wav", 1.0f, 4), made("b.wav", 1.0f, 5)});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("a and b are equally loud within"));
  EXPECT_THAT(ran.out, testing::Not(HasSubstr("softer side")));
}

TEST_F(CompareCommand, SilenceOnOneSideIsNothingToCompareAndIsNamed) {
  const Ran ran = run_phren({"compare", made("a.wav", 0.0f, 4), made("b.wav", 1.0f, 5)});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("nothing to compare"));
  EXPECT_THAT(ran.err, HasSubstr("a: not good enough to rely on: silence"));
}

TEST_F(CompareCommand, AFileThatIsNotThereIsNamed) {
  const Ran ran = run_phren({"compare", "none.wav", made("b.wav", 1.0f, 5)});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_THAT(ran.err, HasSubstr("none.wav: no such file"));
}

}  // namespace
}  // namespace phren::app
