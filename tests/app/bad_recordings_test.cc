// Whatever is put before `phren measure`: each bad file is named with what would be right, the good
// ones are still measured, and the exit code is 1.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "base/random.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {

// Noise that swells and fades like breath, of this loudness.
signal::Audio breath(double seconds, double rate_hz, double loudness) {
  RandomStream random(Seed{5}, "breath");
  signal::Audio audio;
  audio.sample_rate_hz = rate_hz;
  audio.samples.resize(static_cast<std::size_t>(seconds * rate_hz));
  for (std::size_t i = 0; i < audio.samples.size(); ++i) {
    const double swell = std::abs(std::sin(static_cast<double>(i) / rate_hz));
    audio.samples[i] =
        static_cast<float>(std::clamp(loudness * swell * random.normal(), -1.0, 1.0));
  }
  return audio;
}

std::vector<nlohmann::json> lines_of(const std::string& text) {
  std::vector<nlohmann::json> out;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) out.push_back(nlohmann::json::parse(line));
  return out;
}

void write(const std::string& file, const signal::Audio& audio) {
  const Status written = signal::write_audio(file, audio);
  ASSERT_TRUE(written) << written.error().message;
}

TEST(BadRecordings, AreNamedEachAndTheGoodOnesAreStillMeasured) {
  const TemporaryFolder folder;
  write(folder.file("good.wav"), breath(6, 8000, 0.05));
  write(folder.file("also_good.flac"), breath(6, 44100, 0.05));
  write(folder.file("one_sample.wav"), {8000.0, {0.1f}});
  const std::string whole = read_file(folder.file("good.wav")).value();
  ASSERT_TRUE(write_file(folder.file("cut_short.wav"), whole.substr(0, whole.size() / 2)));
  std::string slow = whole;  // bytes 24-27 of a WAV hold its rate: 500 Hz
  slow[24] = '\xF4', slow[25] = '\x01', slow[26] = slow[27] = '\0';
  ASSERT_TRUE(write_file(folder.file("slow.wav"), slow));
  ASSERT_TRUE(write_file(folder.file("letter.wav"), "Dear colleague, this is no sound."));
  ASSERT_TRUE(write_file(folder.file("empty.wav"), ""));
  const std::vector<std::string> bad = {"missing.wav", "one_sample.wav", "cut_short.wav",
                                        "slow.wav",    "letter.wav",     "empty.wav"};
  std::vector<std::string> arguments = {"measure", "--json", folder.file("good.wav")};
  for (const std::string& name : bad) arguments.push_back(folder.file(name.c_str()));
  arguments.push_back(folder.path());  // a folder is not a recording either
  arguments.push_back(folder.file("also_good.flac"));

  const Ran ran = run_phren(arguments);
  EXPECT_EQ(ran.code, kInputFailed);
  const auto lines = lines_of(ran.out);
  ASSERT_EQ(lines.size(), 2u) << ran.out;
  EXPECT_EQ(lines[0]["recording"], "good");
  EXPECT_EQ(lines[1]["recording"], "also_good");
  for (const std::string& name : bad) {
    EXPECT_NE(ran.err.find(folder.file(name.c_str()) + ":"), std::string::npos) << name << "\n"
                                                                                << ran.err;
  }
  for (const char* words : {"no such file", "500 Hz", "is not a file"}) {
    EXPECT_NE(ran.err.find(words), std::string::npos) << words << "\n" << ran.err;
  }
}

TEST(BadRecordings, SilentAndClippedOnesAreMeasuredAndSaySo) {
  const TemporaryFolder folder;
  write(folder.file("silent.wav"), {8000.0, std::vector<float>(48000)});
  write(folder.file("clipped.wav"), breath(6, 8000, 3.0));
  const Ran ran =
      run_phren({"measure", "--json", folder.file("silent.wav"), folder.file("clipped.wav")});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  const auto lines = lines_of(ran.out);
  ASSERT_EQ(lines.size(), 2u);
  const auto reasons = [&](std::size_t i) { return lines[i]["quality"]["reasons"].dump(); };
  EXPECT_NE(reasons(0).find("silence"), std::string::npos) << reasons(0);
  EXPECT_NE(reasons(1).find("clipping"), std::string::npos) << reasons(1);
  EXPECT_EQ(lines[0]["quality"]["usable"], false);
}

TEST(BadRecordingsSlow, AnHourIsMeasuredToItsEnd) {
  const TemporaryFolder folder;
  write(folder.file("hour.flac"), breath(3600, 4000, 0.05));
  const Ran ran = run_phren({"measure", "--json", "--fast", folder.file("hour.flac")});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  const auto lines = lines_of(ran.out);
  ASSERT_EQ(lines.size(), 1u);
  EXPECT_NEAR(lines[0]["duration_s"].get<double>(), 3600.0, 0.01);
}

}  // namespace
}  // namespace phren::app
