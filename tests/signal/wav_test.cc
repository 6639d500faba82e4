// The reader of plain WAV for the browser against libsndfile, sample by sample.
#include "signal/wav.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sndfile.h>

#include <cmath>
#include <cstring>

#include "signal/audio_file.h"

namespace phren::signal {
namespace {

std::span<const unsigned char> bytes_of(const std::string& text) {
  return {reinterpret_cast<const unsigned char*>(text.data()), text.size()};
}

Audio sound(double rate_hz = 8000.0) {
  Audio audio{rate_hz, std::vector<float>(4001)};
  for (std::size_t n = 0; n < audio.samples.size(); ++n)
    audio.samples[n] = static_cast<float>(std::sin(0.01 * static_cast<double>(n * n % 9973)));
  return audio;
}

// A WAV of `channels` channels as libsndfile writes it.
std::string written(int format, int channels) {
  struct File {
    std::string bytes;
    sf_count_t at = 0;
  } file;
  SF_VIRTUAL_IO io{
      [](void* f) { return static_cast<sf_count_t>(static_cast<File*>(f)->bytes.size()); },
      [](sf_count_t offset, int whence, void* f) {
        auto& one = *static_cast<File*>(f);
        const auto size = static_cast<sf_count_t>(one.bytes.size());
        one.at = offset + (whence == SEEK_CUR ? one.at : whence == SEEK_END ? size : 0);
        return one.at;
      },
      [](void*, sf_count_t, void*) { return sf_count_t{0}; },
      [](const void* from, sf_count_t count, void* f) {
        auto& one = *static_cast<File*>(f);
        const auto end = static_cast<std::size_t>(one.at + count);
        if (one.bytes.size() < end) one.bytes.resize(end);
        std::memcpy(one.bytes.data() + one.at, from, static_cast<std::size_t>(count));
        one.at += count;
        return count;
      },
      [](void* f) { return static_cast<File*>(f)->at; }};
  SF_INFO info{};
  info.samplerate = 8000;
  info.channels = channels;
  info.format = format;
  SNDFILE* out = sf_open_virtual(&io, SFM_WRITE, &info, &file);
  EXPECT_NE(out, nullptr) << sf_strerror(nullptr);
  const Audio audio = sound();
  sf_writef_float(out, audio.samples.data(),
                  static_cast<sf_count_t>(audio.samples.size()) / channels);
  sf_close(out);
  return file.bytes;
}

TEST(Wav, GivesTheSamplesThatLibsndfileGives) {
  for (const int container : {SF_FORMAT_WAV, SF_FORMAT_WAVEX})
    for (const int coding : {SF_FORMAT_PCM_U8, SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_PCM_32,
                             SF_FORMAT_FLOAT, SF_FORMAT_DOUBLE})
      for (const int channels : {1, 2}) {
        SCOPED_TRACE(testing::Message() << container << " " << coding << " " << channels);
        const std::string file = written(container | coding, channels);
        const auto theirs = read_audio_bytes(std::as_bytes(std::span(file)), "sound");
        const auto ours = read_wav(bytes_of(file), "sound");
        ASSERT_TRUE(theirs) << theirs.error().message;
        ASSERT_TRUE(ours) << ours.error().message;
        EXPECT_EQ(ours->sample_rate_hz, theirs->sample_rate_hz);
        EXPECT_EQ(ours->samples, theirs->samples);
      }
}

TEST(Wav, LeavesOtherCodingsAndFilesToOthers) {
  const std::string law = written(SF_FORMAT_WAV | SF_FORMAT_ULAW, 1);
  EXPECT_EQ(read_wav(bytes_of(law), "sound").error().code, ErrorCode::kUnsupported);
  EXPECT_EQ(read_wav(bytes_of("fLaC"), "sound").error().code, ErrorCode::kUnsupported);
  EXPECT_EQ(read_wav({}, "sound").error().code, ErrorCode::kUnsupported);
}

TEST(Wav, ACutFileIsRefusedInTheWordsOfTheProgram) {
  const std::string file = wav_bytes(sound()).value().substr(0, 1000);
  const auto theirs = read_audio_bytes(std::as_bytes(std::span(file)), "sound");
  const auto ours = read_wav(bytes_of(file), "sound");
  ASSERT_FALSE(theirs);
  ASSERT_FALSE(ours);
  EXPECT_EQ(ours.error().message, theirs.error().message);
}

// Every cut and ten thousand changed bytes: an answer, never a fault.
TEST(Wav, DamageIsAnswered) {
  const std::string whole = wav_bytes(sound()).value();
  for (std::size_t n = 0; n < 200; ++n) {
    (void)read_wav(bytes_of(whole.substr(0, n)), "sound");
    (void)words_beside(bytes_of(whole.substr(0, n)));
  }
  std::uint32_t state = 20261130;
  for (int n = 0; n < 10000; ++n) {
    std::string file = whole.substr(0, 200);
    for (int k = 0; k < 3; ++k) {
      state = state * 1664525u + 1013904223u;
      file[state % 64] = static_cast<char>(state >> 24);
    }
    (void)read_wav(bytes_of(file), "sound");
    (void)words_beside(bytes_of(file));
  }
}

std::string chunk(std::string_view id, const std::string& text) {
  const auto size = static_cast<std::uint32_t>(text.size());
  std::string out(id);
  for (int k = 0; k < 4; ++k) out += static_cast<char>(size >> (8 * k) & 255u);
  return out + text + (size % 2 == 1 ? std::string(1, '\0') : "");
}

// With the length that its head must name.
std::string sized(std::string file) {
  const auto size = static_cast<std::uint32_t>(file.size() - 8);
  for (std::size_t k = 0; k < 4; ++k) file[4 + k] = static_cast<char>(size >> (8 * k) & 255u);
  return file;
}

TEST(Wav, SeesTheWordsThatTheProgramSees) {
  const std::string plain = wav_bytes(sound()).value();
  const std::string list = sized(plain + chunk("LIST", "INFO" + chunk("INAM", "A name")));
  const std::string by = plain + chunk("LIST", "INFO" + chunk("ISFT", "A program"));
  EXPECT_EQ(words_beside(bytes_of(plain)), Words::kNone);
  EXPECT_EQ(words_beside(bytes_of(by)), Words::kNone);
  EXPECT_EQ(words_beside(bytes_of(list)), Words::kSome);
  EXPECT_EQ(words_beside(bytes_of(plain + chunk("iXML", "<who/>"))), Words::kSome);
  EXPECT_EQ(words_beside(bytes_of("ID3 something else")), Words::kNotLookedFor);
  const auto reader = AudioReader::open_bytes(std::as_bytes(std::span(list)), "sound");
  EXPECT_TRUE(reader->info().has_metadata_text);
}

// RFC 9639, section 8: a stream block, then comments, the last.
TEST(Wav, SeesCommentsOfAFlac) {
  const auto flac = [](const std::string& comment) {
    const auto number = [](std::size_t n) {
      return std::string{static_cast<char>(n), '\0', '\0', '\0'};
    };
    const std::string block = number(2) + "me" + number(1) + number(comment.size()) + comment;
    return std::string("fLaC") + '\0' + '\0' + '\0' + '\x22' + std::string(34, '\0') + '\x84' +
           '\0' + '\0' + static_cast<char>(block.size()) + block;
  };
  EXPECT_EQ(words_beside(bytes_of(flac("TITLE=A name"))), Words::kSome);
  EXPECT_EQ(words_beside(bytes_of(flac("encoder=a program"))), Words::kNone);
}

}  // namespace
}  // namespace phren::signal
