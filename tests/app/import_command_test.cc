// Copies made by `phren import` carry the sound and nothing else.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "measurement/sounds.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr const char* kName = "Isla Invented, born 1971";  // nobody

std::string little_endian(std::size_t v) {
  std::string out;
  for (int i = 0; i < 4; ++i) out += static_cast<char>(v >> (8 * i) & 255u);
  return out;
}

std::string chunk(const std::string& id, std::string body) {
  if (body.size() % 2 == 1) body += '\0';
  return id + little_endian(body.size()) + body;
}

// A WAV with more chunks at its end.
std::string with_chunk(std::string wav, const std::string& more) {
  wav += more;
  return wav.replace(4, 4, little_endian(wav.size() - 8));
}

// A FLAC with one more metadata block (RFC 9639, 8.1) behind the first.
std::string with_block(std::string flac, char kind, const std::string& body) {
  const std::string head{kind, '\0', '\0', static_cast<char>(body.size())};
  return flac.insert(4 + 4 + 34, head + body);
}

signal::Audio breath() {
  auto x = measurement::test::breathing(4.0, 20.0, 7.0, 3);
  for (float& v : x) v = std::round(v * 32768.0f) / 32768.0f;  // as 16 bits hold it
  return {measurement::kWorkRate_hz, x};
}

class ImportCommand : public testing::Test {
 protected:
  void expect_clean_copy(const std::string& name, const std::string& bytes) {
    SCOPED_TRACE(name);
    ASSERT_THAT(bytes, HasSubstr(kName));
    const std::string file = folder_.file(name.c_str());
    ASSERT_TRUE(write_file(file, bytes));
    const Ran ran = run_phren({"import", "--json", file, "--out", folder_.file("shelf")});
    ASSERT_EQ(ran.code, kOk) << ran.err;
    const auto line = nlohmann::json::parse(ran.out);
    EXPECT_TRUE(line["left_out_text"]);
    EXPECT_FALSE(line["speech"]);
    const std::string copy = line["copy"];
    EXPECT_THAT(copy, Not(HasSubstr("isla")));
    EXPECT_THAT(*read_file(copy), Not(HasSubstr("Invented")));
    EXPECT_FALSE(signal::AudioReader::open(copy)->info().has_metadata_text);
    EXPECT_EQ(signal::read_audio(copy)->samples, signal::read_audio(file)->samples);
    // `phren measure` says so too; it writes no copy.
    const Ran measured = run_phren({"measure", "--fast", "--json", file});
    EXPECT_TRUE(nlohmann::json::parse(measured.out)["has_metadata_text"]);
  }
  TemporaryFolder folder_;
};

TEST_F(ImportCommand, LeavesOutEveryKindOfTextThatAWavCarries) {
  const std::string wav = *signal::wav_bytes(breath());
  expect_clean_copy("isla_list.wav", with_chunk(wav, chunk("LIST", "INFO" + chunk("IART", kName))));
  std::string notes = kName;
  notes.resize(602, '\0');  // EBU Tech 3285: the fixed part of a broadcast chunk
  expect_clean_copy("isla_broadcast.wav", with_chunk(wav, chunk("bext", notes)));
  expect_clean_copy("isla_xml.wav", with_chunk(wav, chunk("iXML", "<N>" + std::string(kName))));
}

TEST_F(ImportCommand, LeavesOutPicturesAndBlocksOfOtherProgramsInAFlac) {
  const std::string file = folder_.file("plain.flac");
  ASSERT_TRUE(signal::write_audio(file, breath()));
  const std::string flac = *read_file(file);
  const std::string name = kName;  // as the description of an empty cover
  const std::string picture = std::string("\0\0\0\3\0\0\0\x9image/png\0\0\0", 20) +
                              static_cast<char>(name.size()) + name + std::string(20, '\0');
  expect_clean_copy("isla_picture.flac", with_block(flac, 6, picture));
  expect_clean_copy("isla_program.flac", with_block(flac, 2, std::string("abcd") + kName));
}

TEST_F(ImportCommand, FlagsAVoiceAndNumbersOn) {
  auto audio = breath();
  // A vowel whose pitch rises and falls, as that of a voice that says something: 110 to 170 Hz.
  double phase = 0.0;
  for (std::size_t n = 0; n < audio.samples.size(); ++n) {
    const double t_s = static_cast<double>(n) / audio.sample_rate_hz;
    if (t_s < 0.2 || t_s > 3.8) continue;
    phase += 2.0 * std::numbers::pi * (140.0 + 30.0 * std::sin(5.0 * t_s)) / audio.sample_rate_hz;
    double voice = 0.0;
    for (int k = 1; k <= 8; ++k) voice += 0.05 / k * std::sin(k * phase);
    audio.samples[n] += static_cast<float>(voice);
  }
  ASSERT_TRUE(signal::write_audio(folder_.file("a.wav"), breath()));
  ASSERT_TRUE(signal::write_audio(folder_.file("b.wav"), audio));
  const Ran ran = run_phren({"import", folder_.file("a.wav"), folder_.file("b.wav"),
                             folder_.file("none.wav"), "--out", folder_.file("shelf")});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_THAT(ran.err, HasSubstr("none.wav: no such file"));
  EXPECT_THAT(ran.out, HasSubstr("recording-0001.flac"));
  EXPECT_THAT(ran.out, HasSubstr("recording-0002.flac  none seen         speech"));
}

}  // namespace
}  // namespace phren::app
