// The JSON line of `phren measure --json`: every key, type and label, whatever the sound
// (docs/formats/measurement.md).
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "measurement/features.h"
#include "measurement/sounds.h"
#include "signal/audio_file.h"
#include "signal/resample.h"

namespace phren::app {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;

const std::set<std::string> kEventLabels{
    "Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"};
const std::set<std::string> kRecordLabels{"Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"};
const std::set<std::string> kKinds{"children's sensor", "electronic stethoscope", "other"};

std::set<std::string> keys_of(const json& object) {
  std::set<std::string> keys;
  for (const auto& [key, value] : object.items()) keys.insert(key);
  return keys;
}

void expect_probabilities(const json& probabilities, const std::set<std::string>& labels,
                          const json& label) {
  EXPECT_EQ(keys_of(probabilities), labels);
  double sum = 0.0;
  for (const auto& [name, p] : probabilities.items()) {
    EXPECT_GE(p.get<double>(), 0.0);
    sum += p.get<double>();
  }
  EXPECT_NEAR(sum, 1.0, 1e-4);
  EXPECT_TRUE(labels.contains(label));
}

// A set of labels, the more probable first; whoever cannot tell says why.
void expect_verdict(const json& verdict, const json& probabilities) {
  EXPECT_EQ(keys_of(verdict), (std::set<std::string>{"can_tell", "why_not", "set"}));
  EXPECT_EQ(verdict["can_tell"].get<bool>(), verdict["why_not"].get<std::string>().empty());
  EXPECT_EQ(verdict["set"].empty(), verdict["why_not"] == "fast measurement");
  if (verdict["can_tell"].get<bool>()) {
    EXPECT_LE(verdict["set"].size(), 2u);
  }
  double last = 1.0;
  for (const auto& label : verdict["set"]) {
    EXPECT_LE(probabilities.at(label).get<double>(), last);
    last = probabilities.at(label);
  }
}

void expect_event(const json& e, double duration_ms) {
  EXPECT_EQ(keys_of(e),
            (std::set<std::string>{"start_ms", "end_ms", "label", "probabilities", "wheeze_hz",
                                   "tonal_share", "crackles", "crackle_2cd_ms", "top_continuous",
                                   "features", "because"}));
  EXPECT_LT(e["start_ms"].get<double>(), e["end_ms"].get<double>());
  EXPECT_GE(e["start_ms"].get<double>(), 0.0);
  EXPECT_LE(e["end_ms"].get<double>(), duration_ms + 45.0);  // one frame of the network
  expect_probabilities(e["probabilities"], kEventLabels, e["label"]);
  EXPECT_EQ(e["features"].size(), measurement::kNumFeatures);
  for (const auto name : measurement::feature_names())
    EXPECT_TRUE(e["features"].at(std::string(name)).is_number()) << name;
  for (const auto& reason : e["because"])
    EXPECT_EQ(keys_of(reason), (std::set<std::string>{"feature", "words", "value", "push"}));
}

void expect_line(const json& line) {
  EXPECT_EQ(keys_of(line),
            (std::set<std::string>{"recording", "duration_s", "sample_rate_hz", "record", "verdict",
                                   "kind", "is_familiar", "evidence", "quality", "rms_dbfs",
                                   "has_metadata_text", "breath", "crackle_high_pass_hz", "tones",
                                   "crackles", "events", "given_events"}));
  EXPECT_EQ(keys_of(line["record"]), (std::set<std::string>{"label", "probabilities"}));
  expect_probabilities(line["record"]["probabilities"], kRecordLabels, line["record"]["label"]);
  expect_verdict(line["verdict"], line["record"]["probabilities"]);
  EXPECT_EQ(line["evidence"].size(), measurement::kNumRecordEvidence + 2);
  EXPECT_TRUE(line["is_familiar"].is_boolean());
  EXPECT_EQ(keys_of(line["kind"]), kKinds);
  double kinds = 0.0;
  for (const auto& [name, p] : line["kind"].items()) {
    EXPECT_GE(p.get<double>(), 0.0) << name;
    kinds += p.get<double>();
  }
  EXPECT_NEAR(kinds, 1.0, 2e-4);
  EXPECT_EQ(keys_of(line["quality"]),
            (std::set<std::string>{"usable", "poor_probability", "reasons"}));
  EXPECT_EQ(line["quality"]["usable"].get<bool>(), line["quality"]["reasons"].empty());
  EXPECT_EQ(keys_of(line["breath"]),
            (std::set<std::string>{"rate_per_min", "expiration_to_inspiration", "confidence",
                                   "phase_confidence", "level_dbfs", "phases", "bands"}));
  EXPECT_EQ(line["breath"]["bands"].size(), 5u);
  const double duration_ms = 1000.0 * line["duration_s"].get<double>();
  for (const char* list : {"events", "given_events"})
    for (const auto& event : line[list]) expect_event(event, duration_ms);
}

class MeasureLine : public testing::Test {
 protected:
  std::string write(const std::string& name, std::vector<float> samples,
                    double rate_hz = measurement::kWorkRate_hz) {
    const std::string file = folder_.file(name.c_str());
    EXPECT_TRUE(signal::write_audio(file, {rate_hz, std::move(samples)}));
    return file;
  }
  // Runs with --json and checks each line.
  std::vector<json> lines(std::vector<std::string> arguments, int code = kOk) {
    arguments.insert(arguments.begin(), {"measure", "--json"});
    const Ran ran = run_phren(arguments);
    EXPECT_EQ(ran.code, code) << ran.err;
    error_ = ran.err;
    std::vector<json> out;
    std::istringstream text(ran.out);
    for (std::string line; std::getline(text, line);) {
      out.push_back(json::parse(line));
      SCOPED_TRACE(out.back()["recording"]);
      expect_line(out.back());
    }
    return out;
  }
  static std::vector<float> breath(double seconds = 8.0) {
    auto x = measurement::test::breathing(seconds, 20.0, 7.0, 3);
    measurement::test::add_tone(x, 400.0, 1.3, 0.6, 0.02);
    return x;
  }
  TemporaryFolder folder_;
  std::string error_;
};

TEST_F(MeasureLine, HasOneShapeForEverySoundFastOrNot) {
  auto clipped = breath();
  for (float& v : clipped) v = std::clamp(200.0f * v, -1.0f, 1.0f);
  std::vector<std::string> files{write("breath.wav", breath()), write("short.wav", breath(0.12)),
                                 write("silent.wav", std::vector<float>(20000, 0.0f)),
                                 write("clipped.wav", clipped), write("long.wav", breath(45.0))};
  for (const double rate_hz : {1000.0, 5512.0, 11025.0, 44100.0, 96000.0}) {
    const auto other = signal::resample({measurement::kWorkRate_hz, breath()}, rate_hz);
    ASSERT_TRUE(other);
    files.push_back(
        write("rate_" + std::to_string(std::lround(rate_hz)) + ".wav", other->samples, rate_hz));
  }
  for (const bool is_fast : {false, true}) {
    SCOPED_TRACE(is_fast ? "--fast" : "network");
    auto arguments = files;
    if (is_fast) arguments.push_back("--fast");
    const auto got = lines(arguments);
    ASSERT_EQ(got.size(), files.size());
    EXPECT_EQ(got[1]["quality"]["reasons"][0], "too short");
    EXPECT_EQ(got[2]["quality"]["reasons"][0], "silence");
    EXPECT_THAT(got[3]["quality"]["reasons"].dump(), HasSubstr("clipping"));
    EXPECT_EQ(got[7]["sample_rate_hz"], 11025);
    EXPECT_NEAR(got[7]["duration_s"].get<double>(), 8.0, 0.01);
  }
}

// Left and right at half of one sound each are that sound.
TEST_F(MeasureLine, StereoIsMeasuredAsItsMean) {
  const auto mono = breath();
  std::string wav = *signal::wav_bytes({measurement::kWorkRate_hz, mono});
  const std::string sound = wav.substr(44);
  std::string both;
  for (std::size_t i = 0; i < sound.size(); i += 2) both += sound.substr(i, 2) + sound.substr(i, 2);
  const auto put = [&](std::size_t at, std::size_t bytes, std::size_t v) {
    for (std::size_t i = 0; i < bytes; ++i) wav[at + i] = static_cast<char>(v >> (8 * i) & 255u);
  };
  wav = wav.substr(0, 44) + both;
  put(4, 4, wav.size() - 8);
  put(22, 2, 2);
  put(28, 4, 4000 * 4);
  put(32, 2, 4);
  put(40, 4, both.size());
  ASSERT_TRUE(write_file(folder_.file("stereo.wav"), wav));
  auto got = lines({write("mono.wav", mono), folder_.file("stereo.wav")});
  ASSERT_EQ(got.size(), 2u);
  got[0].erase("recording"), got[1].erase("recording");
  EXPECT_EQ(got[0], got[1]);
}

TEST_F(MeasureLine, GivenEventsComeInTheOrderOfTheFileAndOthersAreIgnored) {
  const std::string csv = folder_.file("events.csv");
  ASSERT_TRUE(write_file(csv,
                         "event_label,recording,end_ms,start_ms\r\n"
                         "Wheeze,breath,2000,1200\nNormal,other,300,100\n"
                         "Normal,breath,900,\"150\"\nNormal,breath,7999,7000\n"));
  const auto got = lines({write("breath.wav", breath()), "--events", csv});
  ASSERT_EQ(got.size(), 1u);
  ASSERT_EQ(got[0]["given_events"].size(), 3u);
  EXPECT_EQ(got[0]["given_events"][0]["start_ms"], 1200);
  EXPECT_EQ(got[0]["given_events"][1]["start_ms"], 150);
  EXPECT_EQ(got[0]["given_events"][2]["end_ms"], 7999);
}

TEST_F(MeasureLine, BadRowsOfEventsAreNamed) {
  const std::string file = write("breath.wav", breath()), csv = folder_.file("events.csv");
  const struct {
    const char *text, *said;
  } kCases[] = {
      {"recording,start_ms\nbreath,100\n", "end_ms"},
      {"recording,start_ms,end_ms\nbreath,soon,200\n", "soon"},
      {"recording,start_ms,end_ms\nbreath,100\n", ":2: has 2 fields"},
      {"recording,start_ms,end_ms\nbreath,900,200\n", "after its start_ms"},
      {"recording,start_ms,end_ms\nbreath,9000,9100\n", "within the recording"},
      {"recording,start_ms,end_ms\nbreath,-5,100\n", "within the recording"},
      {"", "events.csv"},
  };
  for (const auto& c : kCases) {
    SCOPED_TRACE(c.text);
    ASSERT_TRUE(write_file(csv, c.text));
    EXPECT_TRUE(lines({file, "--events", csv}, kInputFailed).empty());
    EXPECT_THAT(error_, HasSubstr(c.said));
  }
}

TEST_F(MeasureLine, JobsChangeNeitherOrderNorNumbers) {
  std::vector<std::string> files;
  for (int i = 0; i < 6; ++i)
    files.push_back(write("r" + std::to_string(i) + ".wav", breath(3.0 + 5.0 * (i % 3))));
  auto one = files, three = files;
  three.insert(three.end(), {"--jobs", "3"});
  EXPECT_EQ(lines(one), lines(three));
}

}  // namespace
}  // namespace phren::app
