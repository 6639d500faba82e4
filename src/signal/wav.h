// What lies in a WAV (and in the head of a FLAC) beside libsndfile's view of it, and a reader of
// plain WAV for the browser, where there is no libsndfile.
//
// Shapes:  one or two channels, two averaged to one, as AudioReader gives them.
// Units:   samples in full scale (+-1.0); whole numbers of n bits are divided by 2^(n-1).
// Errors:  kUnsupported for a WAV of another coding than 8, 16, 24, 32 bit PCM and 32, 64 bit float;
//          kMalformed for one that is cut short; and those of signal/sound_checks.h.
// Source:  Multimedia Programming Interface and Data Specifications 1.0 (IBM, Microsoft 1991) and
//          RFC 9639, from memory; checked against libsndfile in tests/signal/wav_test.cc.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "signal/audio.h"

namespace phren::signal {

// Chunks of a WAV that hold words about a recording: broadcast and cart notes, tags, XML.
inline constexpr std::array<std::string_view, 8> kWordChunks{"bext", "cart", "iXML", "aXML",
                                                             "_PMX", "id3 ", "ID3 ", "note"};
// Pictures and blocks of other programs in a FLAC, which libsndfile passes over (RFC 9639, 8).
bool has_flac_extra(std::span<const unsigned char> head);
// libsndfile quietly shortens a cut WAV. Returns how many bytes of sound its header promises beyond
// the end of the file, 0 if all are there or the header does not say.
std::uint64_t missing_wav_bytes(std::span<const unsigned char> head, std::uint64_t file_size);

bool is_wav(std::span<const unsigned char> bytes);
Result<Audio> read_wav(std::span<const unsigned char> bytes, const std::string& name);
// Words or pictures beside the sound of a WAV or FLAC: may name a person. Other files are not
// looked into.
enum class Words { kNone, kSome, kNotLookedFor };
Words words_beside(std::span<const unsigned char> bytes);

}  // namespace phren::signal
