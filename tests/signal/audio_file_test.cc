#include "signal/audio_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sndfile.h>

#include <cmath>
#include <filesystem>
#include <fstream>

#include "base/files.h"

namespace phren::signal {
namespace {

using testing::HasSubstr;
namespace fs = std::filesystem;

Audio tone(double rate_hz, std::size_t count) {
  Audio audio{rate_hz, std::vector<float>(count)};
  for (std::size_t n = 0; n < count; ++n)
    audio.samples[n] =
        0.5f * static_cast<float>(std::sin(2.0 * M_PI * 300.0 * static_cast<double>(n) / rate_hz));
  return audio;
}

class AudioFile : public testing::Test {
 protected:
  void SetUp() override {
    folder_ =
        fs::temp_directory_path() / ("phren_audio_" + std::to_string(::getpid()) + "_" +
                                     testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }
  fs::path path(const std::string& name) const { return folder_ / name; }
  fs::path write(const std::string& name, std::string_view bytes) const {
    std::ofstream(path(name), std::ios::binary) << bytes;
    return path(name);
  }
  fs::path folder_;
};

TEST_F(AudioFile, ComesBackWithinItsSampleSizeInEveryFormat) {
  const Audio audio = tone(44100.0, 5000);
  const struct {
    const char* name;
    SampleFormat format;
    double step;
  } kFormats[] = {{"a.wav", SampleFormat::kPcm16, 1.0 / 32768},
                  {"b.wav", SampleFormat::kPcm24, 1.0 / 8388608},
                  {"c.wav", SampleFormat::kPcm32, 1e-7},
                  {"d.wav", SampleFormat::kFloat, 1e-9},
                  {"e.flac", SampleFormat::kPcm16, 1.0 / 32768},
                  {"f.flac", SampleFormat::kPcm24, 1.0 / 8388608}};
  for (const auto& [name, format, step] : kFormats) {
    SCOPED_TRACE(name);
    ASSERT_TRUE(write_audio(path(name), audio, format));
    const auto back = read_audio(path(name));
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_EQ(back->sample_rate_hz, 44100.0);
    ASSERT_EQ(back->samples.size(), audio.samples.size());
    for (std::size_t n = 0; n < audio.samples.size(); ++n)
      ASSERT_NEAR(back->samples[n], audio.samples[n], step);
  }
}

TEST_F(AudioFile, EqualSoundsAreEqualBytes) {
  const Audio audio = tone(8000.0, 800);
  for (const auto format : {SampleFormat::kPcm16, SampleFormat::kFloat})
    EXPECT_EQ(*wav_bytes(audio, format), *wav_bytes(audio, format));
  ASSERT_TRUE(write_audio(path("x.wav"), audio, SampleFormat::kFloat));
  EXPECT_EQ(*read_file(path("x.wav")), *wav_bytes(audio, SampleFormat::kFloat));
}

TEST_F(AudioFile, StereoIsAveraged) {
  SF_INFO info{};
  info.samplerate = 8000;
  info.channels = 2;
  info.format = SF_FORMAT_WAV | SF_FORMAT_FLOAT;
  SNDFILE* file = sf_open(path("s.wav").c_str(), SFM_WRITE, &info);
  const float frames[] = {0.5f, 0.1f, -0.25f, 0.25f};
  ASSERT_EQ(sf_writef_float(file, frames, 2), 2);
  sf_close(file);
  const auto audio = read_audio(path("s.wav"));
  ASSERT_TRUE(audio);
  ASSERT_EQ(audio->samples.size(), 2u);
  EXPECT_FLOAT_EQ(audio->samples[0], 0.3f);
  EXPECT_FLOAT_EQ(audio->samples[1], 0.0f);
}

TEST_F(AudioFile, BytesReadLikeTheFile) {
  const Audio audio = tone(16000.0, 1000);
  const std::string bytes = *wav_bytes(audio);
  const auto back = read_audio_bytes(std::as_bytes(std::span(bytes)), "upload.wav");
  ASSERT_TRUE(back) << back.error().message;
  EXPECT_EQ(back->samples.size(), 1000u);
}

TEST_F(AudioFile, BlocksGiveTheSameSamplesAsTheWhole) {
  ASSERT_TRUE(write_audio(path("t.flac"), tone(8000.0, 10007)));
  const auto whole = read_audio(path("t.flac"));
  auto reader = AudioReader::open(path("t.flac"));
  ASSERT_TRUE(reader);
  std::vector<float> block(1000), all;
  for (std::size_t got = 1; got > 0;) {
    got = *reader->read(block);
    all.insert(all.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(got));
  }
  EXPECT_EQ(all, whole->samples);
}

TEST_F(AudioFile, SaysWhatIsWrongWithAFileThatCannotBeRead) {
  EXPECT_THAT(read_audio(path("none.wav")).error().message, HasSubstr("none.wav: no such file"));
  EXPECT_EQ(read_audio(path("none.wav")).error().code, ErrorCode::kNotFound);
  EXPECT_THAT(read_audio(write("empty.wav", "")).error().message, HasSubstr("is empty"));
  EXPECT_THAT(
      read_audio(write("text.wav", "Dear colleague, the recording is attached.")).error().message,
      HasSubstr("not a sound file that can be read"));
  EXPECT_THAT(read_audio(folder_).error().message, HasSubstr("is not a file"));
}

TEST_F(AudioFile, ACutFileIsAnErrorNotAShorterSound) {
  const std::string wav = *wav_bytes(tone(8000.0, 8000));
  const auto cut = read_audio(write("cut.wav", std::string_view(wav).substr(0, 9000)));
  ASSERT_FALSE(cut);
  EXPECT_THAT(cut.error().message, HasSubstr("cut.wav: cut short, 7044 bytes"));
  ASSERT_TRUE(write_audio(path("whole.flac"), tone(8000.0, 80000)));
  const std::string flac = *read_file(path("whole.flac"));
  const auto half =
      read_audio(write("half.flac", std::string_view(flac).substr(0, flac.size() / 2)));
  ASSERT_FALSE(half);
  EXPECT_THAT(half.error().message, HasSubstr("half.flac"));
}

TEST_F(AudioFile, RefusesAbsurdRatesAndSamplesThatAreNotNumbers) {
  std::string wav = *wav_bytes(tone(8000.0, 100));
  wav[24] = 50, wav[25] = wav[26] = wav[27] = 0;  // 50 Hz
  EXPECT_THAT(read_audio(write("slow.wav", wav)).error().message,
              HasSubstr("sample rate is 50 Hz; it must be between 1000 and 384000 Hz"));
  Audio bad = tone(8000.0, 100);
  bad.samples[42] = std::nanf("");
  ASSERT_TRUE(write_audio(path("nan.wav"), bad, SampleFormat::kFloat));
  EXPECT_THAT(read_audio(path("nan.wav")).error().message, HasSubstr("sample 42 is not a number"));
}

TEST_F(AudioFile, NoSamplesIsAnErrorAndOneSampleIsNot) {
  ASSERT_TRUE(write_audio(path("zero.wav"), Audio{8000.0, {}}));
  EXPECT_THAT(read_audio(path("zero.wav")).error().message, HasSubstr("holds no samples"));
  ASSERT_TRUE(write_audio(path("one.wav"), Audio{8000.0, {0.25f}}));
  ASSERT_TRUE(read_audio(path("one.wav")));
  EXPECT_EQ(read_audio(path("one.wav"))->samples.size(), 1u);
}

TEST_F(AudioFile, RefusesToWriteAnAbsurdRate) {
  EXPECT_THAT(wav_bytes(Audio{0.0, {0.0f}}).error().message, HasSubstr("sample_rate_hz is 0"));
}

}  // namespace
}  // namespace phren::signal
