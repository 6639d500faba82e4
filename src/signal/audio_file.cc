#include "signal/audio_file.h"

#include <sndfile.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <system_error>
#include <vector>

#include "base/files.h"
#include "signal/sound_checks.h"
#include "signal/wav.h"

namespace phren::signal {
namespace {

// libsndfile over a span of bytes.
struct MemoryFile {
  std::span<const std::byte> bytes;
  std::string written;
  sf_count_t position = 0;
  bool is_writing = false;

  sf_count_t size() const {
    return static_cast<sf_count_t>(is_writing ? written.size() : bytes.size());
  }
};

sf_count_t memory_length(void* user) {
  return static_cast<MemoryFile*>(user)->size();
}
sf_count_t memory_seek(sf_count_t offset, int whence, void* user) {
  auto& file = *static_cast<MemoryFile*>(user);
  const sf_count_t base = whence == SEEK_CUR ? file.position : whence == SEEK_END ? file.size() : 0;
  file.position = std::max<sf_count_t>(0, base + offset);
  return file.position;
}
sf_count_t memory_read(void* to, sf_count_t count, void* user) {
  auto& file = *static_cast<MemoryFile*>(user);
  const sf_count_t left = std::max<sf_count_t>(0, file.size() - file.position);
  const sf_count_t taken = std::clamp<sf_count_t>(count, 0, left);
  if (taken > 0) {
    const char* from =
        file.is_writing ? file.written.data() : reinterpret_cast<const char*>(file.bytes.data());
    std::memcpy(to, from + file.position, static_cast<std::size_t>(taken));
  }
  file.position += taken;
  return taken;
}
sf_count_t memory_write(const void* from, sf_count_t count, void* user) {
  auto& file = *static_cast<MemoryFile*>(user);
  const auto end = static_cast<std::size_t>(file.position + count);
  if (file.written.size() < end) file.written.resize(end);
  std::memcpy(file.written.data() + file.position, from, static_cast<std::size_t>(count));
  file.position += count;
  return count;
}
sf_count_t memory_tell(void* user) {
  return static_cast<MemoryFile*>(user)->position;
}
SF_VIRTUAL_IO memory_io() {
  return {memory_length, memory_seek, memory_read, memory_write, memory_tell};
}

std::string format_name(SNDFILE* file, int format) {
  SF_FORMAT_INFO major{}, minor{};
  major.format = format & SF_FORMAT_TYPEMASK;
  minor.format = format & SF_FORMAT_SUBMASK;
  sf_command(file, SFC_GET_FORMAT_INFO, &major, sizeof major);
  sf_command(file, SFC_GET_FORMAT_INFO, &minor, sizeof minor);
  return std::string(major.name ? major.name : "unknown") + ", " +
         (minor.name ? minor.name : "unknown");
}

bool has_word_chunk(SNDFILE* file) {
  return std::any_of(kWordChunks.begin(), kWordChunks.end(), [&](std::string_view id) {
    SF_CHUNK_INFO info{};
    std::memcpy(info.id, id.data(), id.size());
    info.id_size = static_cast<unsigned>(id.size());
    return sf_get_chunk_iterator(file, &info) != nullptr;
  });
}

bool has_text(SNDFILE* file, std::span<const unsigned char> head) {
  for (int key = SF_STR_FIRST; key <= SF_STR_LAST; ++key) {
    const char* text = key == SF_STR_SOFTWARE ? nullptr : sf_get_string(file, key);
    if (text != nullptr && *text != '\0') return true;
  }
  return has_word_chunk(file) || has_flac_extra(head);
}

// Containers that Phren reads. libsndfile would try anything else as a compressed stream, and its
// decoders then talk to the terminal.
bool is_known_container(std::span<const unsigned char> head) {
  constexpr std::array<std::string_view, 8> kMagic{"RIFF", "RIFX", "RF64", "fLaC",
                                                   "FORM", "OggS", "caff", "riff"};
  return std::any_of(kMagic.begin(), kMagic.end(), [&](std::string_view magic) {
    return head.size() >= 4 && std::memcmp(head.data(), magic.data(), 4) == 0;
  });
}

Status check_container(std::span<const unsigned char> head, const std::string& name) {
  if (head.empty()) return fail(ErrorCode::kMalformed, name + ": is empty; give a sound file");
  if (is_known_container(head)) return {};
  return fail(ErrorCode::kMalformed,
              name + ": not a sound file that can be read; give WAV or FLAC");
}

}  // namespace

struct AudioReader::Impl {
  SNDFILE* file = nullptr;
  MemoryFile memory;
  std::string name;
  std::uint64_t frames_read = 0;
  std::vector<float> interleaved;

  Impl() = default;
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl() {
    if (file != nullptr) sf_close(file);
  }
};

AudioReader::AudioReader(std::unique_ptr<Impl> impl, AudioInfo info)
    : impl_(std::move(impl)), info_(std::move(info)) {}
AudioReader::AudioReader(AudioReader&&) noexcept = default;
AudioReader& AudioReader::operator=(AudioReader&&) noexcept = default;
AudioReader::~AudioReader() = default;

namespace {

Result<AudioInfo> describe(SNDFILE* file, const SF_INFO& header, const std::string& name,
                           std::uint64_t missing_bytes, std::span<const unsigned char> head) {
  if (file == nullptr)
    return fail(ErrorCode::kMalformed, name + ": not a sound file that can be read (" +
                                           sf_strerror(nullptr) + "); give WAV or FLAC");
  TRY(check_sound(header.samplerate, header.channels, header.frames, name));
  if (missing_bytes > 0) return fail(ErrorCode::kMalformed, cut_short(name, missing_bytes));
  AudioInfo info;
  info.sample_rate_hz = header.samplerate;
  info.num_channels = header.channels;
  info.num_frames = static_cast<std::uint64_t>(header.frames);
  info.format = format_name(file, header.format);
  info.has_metadata_text = has_text(file, head);
  return info;
}

}  // namespace

Result<AudioReader> AudioReader::open(const std::filesystem::path& path) {
  std::error_code ignored;
  const std::string name = path.string();
  if (!std::filesystem::exists(path, ignored))
    return fail(ErrorCode::kNotFound, name + ": no such file");
  if (!std::filesystem::is_regular_file(path, ignored))
    return fail(ErrorCode::kInvalidArgument, name + ": is not a file; give a sound file");
  std::array<unsigned char, 4096> head{};
  std::size_t head_size = 0;
  if (std::FILE* raw = std::fopen(name.c_str(), "rb")) {
    head_size = std::fread(head.data(), 1, head.size(), raw);
    std::fclose(raw);
  } else {
    return fail(ErrorCode::kIo, name + ": cannot be opened for reading");
  }
  TRY(check_container({head.data(), head_size}, name));
  auto impl = std::make_unique<Impl>();
  impl->name = name;
  SF_INFO header{};
  impl->file = sf_open(name.c_str(), SFM_READ, &header);
  const auto size = static_cast<std::uint64_t>(std::filesystem::file_size(path, ignored));
  const std::span<const unsigned char> start(head.data(), head_size);
  auto info = TRY(describe(impl->file, header, name, missing_wav_bytes(start, size), start));
  return AudioReader(std::move(impl), std::move(info));
}

Result<AudioReader> AudioReader::open_bytes(std::span<const std::byte> bytes,
                                            std::string_view name) {
  auto impl = std::make_unique<Impl>();
  impl->name = std::string(name);
  const auto* head = reinterpret_cast<const unsigned char*>(bytes.data());
  const std::span<const unsigned char> start(head, std::min<std::size_t>(bytes.size(), 4096));
  TRY(check_container(start, impl->name));
  impl->memory.bytes = bytes;
  SF_INFO header{};
  SF_VIRTUAL_IO io = memory_io();
  impl->file = sf_open_virtual(&io, SFM_READ, &header, &impl->memory);
  auto info =
      TRY(describe(impl->file, header, impl->name, missing_wav_bytes(start, bytes.size()), start));
  return AudioReader(std::move(impl), std::move(info));
}

Result<std::size_t> AudioReader::read(std::span<float> block) {
  const auto channels = static_cast<std::size_t>(info_.num_channels);
  float* target = block.data();
  if (channels > 1) {
    impl_->interleaved.resize(block.size() * channels);
    target = impl_->interleaved.data();
  }
  const auto wanted = static_cast<sf_count_t>(block.size());
  const sf_count_t got = sf_readf_float(impl_->file, target, wanted);
  const auto taken = static_cast<std::size_t>(std::max<sf_count_t>(0, got));
  if (channels > 1)
    for (std::size_t i = 0; i < taken; ++i) block[i] = 0.5f * (target[2 * i] + target[2 * i + 1]);
  TRY(check_samples(block.first(taken), impl_->frames_read, impl_->name));
  impl_->frames_read += taken;
  if (taken < block.size() && impl_->frames_read < info_.num_frames)
    return fail(ErrorCode::kMalformed,
                impl_->name + ": cut short, " + std::to_string(impl_->frames_read) + " of " +
                    std::to_string(info_.num_frames) + " samples are there; copy the file again");
  return taken;
}

namespace {

Result<Audio> read_all(AudioReader reader, std::string_view name, double max_duration_s) {
  const AudioInfo& info = reader.info();
  if (info.duration_s() > max_duration_s)
    return fail(ErrorCode::kUnsupported,
                std::string(name) + ": lasts " + std::to_string(info.duration_s()) +
                    " s; at most " + std::to_string(max_duration_s) + " s can be read whole");
  Audio audio;
  audio.sample_rate_hz = info.sample_rate_hz;
  // Grow with what is really there: a damaged header may promise more than the memory holds.
  std::vector<float> block(65536);
  while (true) {
    auto got = TRY(reader.read(block));
    if (got == 0) break;
    audio.samples.insert(audio.samples.end(), block.begin(),
                         block.begin() + static_cast<std::ptrdiff_t>(got));
    if (audio.duration_s() > max_duration_s + 60.0)
      return fail(ErrorCode::kMalformed, std::string(name) + ": is longer than its header says");
  }
  return audio;
}

int subtype_of(SampleFormat format) {
  switch (format) {
    case SampleFormat::kPcm16:
      return SF_FORMAT_PCM_16;
    case SampleFormat::kPcm24:
      return SF_FORMAT_PCM_24;
    case SampleFormat::kPcm32:
      return SF_FORMAT_PCM_32;
    case SampleFormat::kFloat:
      return SF_FORMAT_FLOAT;
  }
  return SF_FORMAT_PCM_16;
}

Result<std::string> encode(const Audio& audio, int container, SampleFormat format) {
  if (!(audio.sample_rate_hz >= kMinSampleRate_hz && audio.sample_rate_hz <= kMaxSampleRate_hz))
    return fail(out_of_range("sample_rate_hz", audio.sample_rate_hz, "between 1000 and 384000"));
  SF_INFO info{};
  info.samplerate = static_cast<int>(std::lround(audio.sample_rate_hz));
  info.channels = 1;
  info.format = container | subtype_of(format);
  if (sf_format_check(&info) == 0)
    return fail(ErrorCode::kUnsupported, "FLAC holds 16 or 24 bit samples; choose one of those");
  MemoryFile memory;
  memory.is_writing = true;
  SF_VIRTUAL_IO io = memory_io();
  SNDFILE* file = sf_open_virtual(&io, SFM_WRITE, &info, &memory);
  if (file == nullptr)
    return fail(ErrorCode::kIo, std::string("sound cannot be written: ") + sf_strerror(nullptr));
  // The PEAK chunk of float files carries the time of day; two equal sounds must be equal bytes.
  sf_command(file, SFC_SET_ADD_PEAK_CHUNK, nullptr, SF_FALSE);
  sf_command(file, SFC_SET_CLIPPING, nullptr, SF_TRUE);
  const auto count = static_cast<sf_count_t>(audio.samples.size());
  const bool is_complete = sf_writef_float(file, audio.samples.data(), count) == count;
  sf_close(file);
  if (!is_complete) return fail(ErrorCode::kIo, "sound cannot be written whole");
  return std::move(memory.written);
}

}  // namespace

Result<Audio> read_audio(const std::filesystem::path& path, double max_duration_s) {
  auto reader = TRY(AudioReader::open(path));
  return read_all(std::move(reader), path.string(), max_duration_s);
}

Result<Audio> read_audio_bytes(std::span<const std::byte> bytes, std::string_view name) {
  auto reader = TRY(AudioReader::open_bytes(bytes, name));
  return read_all(std::move(reader), name, 4.0 * 3600.0);
}

Status write_audio(const std::filesystem::path& path, const Audio& audio, SampleFormat format) {
  const int container = path.extension() == ".flac" ? SF_FORMAT_FLAC : SF_FORMAT_WAV;
  auto bytes = TRY(at(path.string(), encode(audio, container, format)));
  return write_file(path, bytes);
}

Result<std::string> wav_bytes(const Audio& audio, SampleFormat format) {
  return encode(audio, SF_FORMAT_WAV, format);
}

}  // namespace phren::signal
