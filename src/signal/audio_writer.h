// A WAV written as it is made, so that an hour needs no more memory than a minute.
//
// Shapes:  mono blocks of any length; the file is the one that write_audio() makes of them together, in
//          32-bit float.
// Errors:  kIo names the file. Until finish() the sound stands beside it under another name; without
//          finish() nothing is left.
// Threads: one.
#pragma once

#include <filesystem>
#include <memory>
#include <span>

#include "base/result.h"

namespace phren::signal {

class AudioWriter {
 public:
  static Result<AudioWriter> open(const std::filesystem::path& path, double sample_rate_hz);
  AudioWriter(AudioWriter&&) noexcept;
  AudioWriter& operator=(AudioWriter&&) noexcept;
  ~AudioWriter();

  // What cannot be written is reported by finish().
  void add(std::span<const float> block);
  std::uint64_t num_frames() const;
  Status finish();

 private:
  struct Impl;
  explicit AudioWriter(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace phren::signal
