// Audio files in and out: WAV, FLAC and whatever else libsndfile reads; mono or stereo (stereo is
// averaged to mono), any rate, 16/24/32-bit or float samples.
//
// Shapes:  AudioReader hands out mono blocks, so an hour needs no more memory than a minute.
// Units:   samples in full scale (+-1.0), rates in Hz.
// Errors:  every error names the file and what would be right: kNotFound (no such file),
//          kMalformed (not audio, cut short, empty, samples that are not numbers), kInvalidArgument
//          (rate or channel count out of range), kIo (could not write).
// Threads: an AudioReader belongs to one thread.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "signal/audio.h"

namespace phren::signal {

struct AudioInfo {
  double sample_rate_hz = 0.0;
  int num_channels = 0;
  std::uint64_t num_frames = 0;
  std::string format;  // "WAV, Signed 16 bit PCM"
  // Words or pictures beside the sound (title, comment, broadcast notes, tags, cover): may name a
  // person. Only what stands in known places is seen; a written copy carries none of it anyway.
  bool has_metadata_text = false;

  double duration_s() const {
    return sample_rate_hz > 0.0 ? static_cast<double>(num_frames) / sample_rate_hz : 0.0;
  }
};

class AudioReader {
 public:
  static Result<AudioReader> open(const std::filesystem::path& path);
  // `bytes` must outlive the reader. `name` stands for the file in errors.
  static Result<AudioReader> open_bytes(std::span<const std::byte> bytes, std::string_view name);

  AudioReader(AudioReader&&) noexcept;
  AudioReader& operator=(AudioReader&&) noexcept;
  ~AudioReader();

  const AudioInfo& info() const { return info_; }
  // Fills `block` from the front and returns how many samples it holds; 0 at the end. A file that
  // ends before the length its header promises is an error, never a shorter sound.
  Result<std::size_t> read(std::span<float> block);

 private:
  struct Impl;
  AudioReader(std::unique_ptr<Impl> impl, AudioInfo info);
  std::unique_ptr<Impl> impl_;
  AudioInfo info_;
};

// The whole file. Refuses more than `max_duration_s` (kUnsupported); use AudioReader for those.
Result<Audio> read_audio(const std::filesystem::path& path, double max_duration_s = 4.0 * 3600.0);
Result<Audio> read_audio_bytes(std::span<const std::byte> bytes, std::string_view name);

enum class SampleFormat { kPcm16, kPcm24, kPcm32, kFloat };

// WAV, or FLAC if the name ends in .flac (16 or 24 bit). Samples beyond full scale are clipped in
// PCM. Carries no metadata and no time stamp: the same sound gives the same bytes. Atomic.
Status write_audio(const std::filesystem::path& path, const Audio& audio,
                   SampleFormat format = SampleFormat::kPcm16);
// The same file as bytes (WAV).
Result<std::string> wav_bytes(const Audio& audio, SampleFormat format = SampleFormat::kPcm16);

}  // namespace phren::signal
