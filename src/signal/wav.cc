#include "signal/wav.h"

#include <algorithm>
#include <cstring>
#include <vector>

#include "signal/sound_checks.h"

namespace phren::signal {
namespace {

using Bytes = std::span<const unsigned char>;

std::uint32_t little_endian(const unsigned char* p, std::size_t count = 4) {
  std::uint32_t out = 0;
  for (std::size_t i = 0; i < count; ++i) out |= static_cast<std::uint32_t>(p[i]) << (8 * i);
  return out;
}

bool starts_with(Bytes bytes, std::string_view tag) {
  return bytes.size() >= tag.size() && std::memcmp(bytes.data(), tag.data(), tag.size()) == 0;
}

// Calls take(id, size as promised, what of it is there) for each chunk until it returns true.
template <class Take>
void walk_chunks(Bytes bytes, Take take) {
  for (std::size_t at = 0; at + 8 <= bytes.size();) {
    const std::uint32_t size = little_endian(bytes.data() + at + 4);
    const Bytes rest = bytes.subspan(at + 8);
    const std::string_view id(reinterpret_cast<const char*>(bytes.data() + at), 4);
    if (take(id, size, rest.first(std::min<std::size_t>(size, rest.size())), rest)) return;
    at += 8 + static_cast<std::size_t>(std::min<std::uint64_t>(
                  static_cast<std::uint64_t>(size) + (size & 1u), rest.size()));
  }
}

// A data chunk whose length was not yet known when it was written.
bool is_streamed(std::uint32_t size) {
  return size == 0xFFFFFFFFu || size == 0u;
}

struct Format {
  int rate_hz = 0, channels = 0;
  bool is_float = false;
  std::size_t bytes = 0;  // a sample
};

Result<Format> read_format(Bytes chunk, const std::string& name) {
  if (chunk.size() < 16) return fail(ErrorCode::kMalformed, name + ": its format is cut short");
  std::uint32_t kind = little_endian(chunk.data(), 2);
  if (kind == 0xFFFEu && chunk.size() >= 26) kind = little_endian(chunk.data() + 24, 2);
  Format out;
  out.channels = static_cast<int>(little_endian(chunk.data() + 2, 2));
  out.rate_hz =
      static_cast<int>(std::min<std::uint32_t>(little_endian(chunk.data() + 4), 1u << 30));
  const std::uint32_t bits = little_endian(chunk.data() + 14, 2);
  out.is_float = kind == 3;
  out.bytes = bits / 8;
  const bool is_known = bits % 8 == 0 && ((kind == 1 && bits >= 8 && bits <= 32) ||
                                          (kind == 3 && (bits == 32 || bits == 64)));
  if (!is_known)
    return fail(ErrorCode::kUnsupported,
                name + ": a WAV of another coding than 8 to 32 bit PCM or float");
  return out;
}

float sample_at(const unsigned char* p, const Format& format) {
  if (format.is_float && format.bytes == 4) {
    float out = 0.0f;
    std::memcpy(&out, p, 4);
    return out;
  }
  if (format.is_float) {
    double out = 0.0;
    std::memcpy(&out, p, 8);
    return static_cast<float>(out);
  }
  if (format.bytes == 1) return (static_cast<float>(*p) - 128.0f) / 128.0f;
  const std::uint32_t left = little_endian(p, format.bytes) << (32 - 8 * format.bytes);
  return static_cast<float>(static_cast<std::int32_t>(left)) / 2147483648.0f;
}

bool has_info_words(Bytes list) {
  bool out = false;
  if (!starts_with(list, "INFO")) return false;
  walk_chunks(list.subspan(4), [&](std::string_view id, std::uint32_t, Bytes words, Bytes) {
    out = out || (id != "ISFT" && !words.empty() && words[0] != 0);
    return out;
  });
  return out;
}

bool has_wav_words(Bytes bytes) {
  bool out = false;
  walk_chunks(bytes.subspan(12), [&](std::string_view id, std::uint32_t, Bytes chunk, Bytes) {
    out = out || (id == "LIST" && has_info_words(chunk)) ||
          std::find(kWordChunks.begin(), kWordChunks.end(), id) != kWordChunks.end();
    return out;
  });
  return out;
}

// Calls take(kind, block) for each block before the sound of a FLAC until it returns true.
template <class Take>
void walk_flac(Bytes bytes, Take take) {
  for (std::size_t at = 4; at + 4 <= bytes.size();) {
    const std::size_t size = static_cast<std::size_t>(bytes[at + 1]) << 16 |
                             static_cast<std::size_t>(bytes[at + 2]) << 8 | bytes[at + 3];
    const Bytes rest = bytes.subspan(at + 4);
    if (take(bytes[at] & 0x7Fu, rest.first(std::min(size, rest.size())))) return;
    if ((bytes[at] & 0x80u) != 0) return;
    at += 4 + size;
  }
}

// Any comment but the name of the program that wrote the file.
bool has_comment(Bytes block) {
  if (block.size() < 8 || little_endian(block.data()) > block.size() - 8) return false;
  std::size_t at = 4 + static_cast<std::size_t>(little_endian(block.data()));
  const std::uint32_t count = little_endian(block.data() + at);
  at += 4;
  for (std::uint32_t i = 0; i < count && at + 4 <= block.size(); ++i) {
    const std::size_t size = little_endian(block.data() + at);
    const Bytes comment = block.subspan(at + 4).first(std::min(size, block.size() - at - 4));
    std::string key;
    for (const unsigned char c : comment) {
      if (c == '=') break;
      key += static_cast<char>(c >= 'a' && c <= 'z' ? c - 32 : c);
    }
    if (key != "ENCODER" && key != "SOFTWARE") return true;
    if (size > block.size() - at - 4) return false;
    at += 4 + size;
  }
  return false;
}

}  // namespace

bool has_flac_extra(Bytes head) {
  constexpr unsigned kApplication = 2, kPicture = 6;
  bool out = false;
  if (!starts_with(head, "fLaC")) return false;
  walk_flac(head, [&](unsigned kind, Bytes) {
    out = kind == kApplication || kind == kPicture;
    return out;
  });
  return out;
}

std::uint64_t missing_wav_bytes(Bytes head, std::uint64_t file_size) {
  if (head.size() < 12 || !starts_with(head, "RIFF")) return 0;
  std::uint64_t missing = 0;
  walk_chunks(head.subspan(12), [&](std::string_view id, std::uint32_t size, Bytes, Bytes rest) {
    if (id != "data") return false;
    const std::uint64_t end = head.size() - rest.size() + static_cast<std::uint64_t>(size);
    if (!is_streamed(size) && end > file_size) missing = end - file_size;
    return true;
  });
  return missing;
}

bool is_wav(Bytes bytes) {
  return bytes.size() >= 12 && starts_with(bytes, "RIFF") && starts_with(bytes.subspan(8), "WAVE");
}

Result<Audio> read_wav(Bytes bytes, const std::string& name) {
  if (!is_wav(bytes)) return fail(ErrorCode::kUnsupported, name + ": is not a WAV");
  Bytes form, data;
  std::uint64_t missing = 0;
  walk_chunks(bytes.subspan(12),
              [&](std::string_view id, std::uint32_t size, Bytes chunk, Bytes rest) {
                if (id == "fmt ") form = chunk;
                if (id != "data") return false;
                data = is_streamed(size) ? rest : chunk;
                if (!is_streamed(size)) missing = size - chunk.size();
                return true;
              });
  const Format format = TRY(read_format(form, name));
  const std::size_t channels = static_cast<std::size_t>(std::max(1, format.channels));
  const std::size_t frames = data.size() / (format.bytes * channels);
  TRY(check_sound(format.rate_hz, format.channels, static_cast<std::int64_t>(frames), name));
  if (missing > 0) return fail(ErrorCode::kMalformed, cut_short(name, missing));
  Audio out{static_cast<double>(format.rate_hz), std::vector<float>(frames)};
  const unsigned char* p = data.data();
  for (float& sample : out.samples) {
    sample = sample_at(p, format);
    if (channels == 2) sample = 0.5f * (sample + sample_at(p + format.bytes, format));
    p += channels * format.bytes;
  }
  TRY(check_samples(out.samples, 0, name));
  return out;
}

Words words_beside(Bytes bytes) {
  if (is_wav(bytes)) return has_wav_words(bytes) ? Words::kSome : Words::kNone;
  if (!starts_with(bytes, "fLaC")) return Words::kNotLookedFor;
  constexpr unsigned kComments = 4;
  bool out = has_flac_extra(bytes);
  walk_flac(bytes, [&](unsigned kind, Bytes block) {
    out = out || (kind == kComments && has_comment(block));
    return out;
  });
  return out ? Words::kSome : Words::kNone;
}

}  // namespace phren::signal
