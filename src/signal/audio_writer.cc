#include "signal/audio_writer.h"

#include <sndfile.h>

#include <cmath>
#include <system_error>

namespace phren::signal {

struct AudioWriter::Impl {
  SNDFILE* file = nullptr;
  std::filesystem::path path, part;
  std::uint64_t frames = 0;
  bool is_whole = true;

  Impl() = default;
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl() {
    if (file == nullptr) return;
    sf_close(file);
    std::error_code ignored;
    std::filesystem::remove(part, ignored);
  }
};

AudioWriter::AudioWriter(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
AudioWriter::AudioWriter(AudioWriter&&) noexcept = default;
AudioWriter& AudioWriter::operator=(AudioWriter&&) noexcept = default;
AudioWriter::~AudioWriter() = default;

Result<AudioWriter> AudioWriter::open(const std::filesystem::path& path, double sample_rate_hz) {
  auto impl = std::make_unique<Impl>();
  impl->path = impl->part = path;
  impl->part += ".part";
  SF_INFO info{};
  info.samplerate = static_cast<int>(std::lround(sample_rate_hz));
  info.channels = 1;
  info.format = SF_FORMAT_WAV | SF_FORMAT_FLOAT;
  impl->file = sf_open(impl->part.c_str(), SFM_WRITE, &info);
  if (impl->file == nullptr) {
    return fail(ErrorCode::kIo, path.string() + ": cannot be written: " + sf_strerror(nullptr));
  }
  // Peaks come with a time stamp; the same sound must give the same bytes.
  sf_command(impl->file, SFC_SET_ADD_PEAK_CHUNK, nullptr, SF_FALSE);
  return AudioWriter(std::move(impl));
}

void AudioWriter::add(std::span<const float> block) {
  const auto count = static_cast<sf_count_t>(block.size());
  if (sf_write_float(impl_->file, block.data(), count) != count) impl_->is_whole = false;
  impl_->frames += block.size();
}

std::uint64_t AudioWriter::num_frames() const {
  return impl_->frames;
}

Status AudioWriter::finish() {
  const bool is_closed = sf_close(impl_->file) == 0;
  impl_->file = nullptr;
  std::error_code error;
  if (impl_->is_whole && is_closed) std::filesystem::rename(impl_->part, impl_->path, error);
  if (impl_->is_whole && is_closed && !error) return {};
  std::error_code ignored;
  std::filesystem::remove(impl_->part, ignored);
  return fail(ErrorCode::kIo, impl_->path.string() + ": cannot be written whole" +
                                  (error ? ": " + error.message() : std::string()));
}

}  // namespace phren::signal
