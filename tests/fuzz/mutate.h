// Small sound files and ways to damage them, for tests of the reader.
#pragma once

#include <unistd.h>

#include <cmath>
#include <cstdint>
#include <filesystem>
#include <string>
#include <unordered_set>
#include <vector>

#include "base/files.h"
#include "base/random.h"
#include "signal/audio_file.h"

namespace phren::fuzz {

inline std::vector<std::string> seed_files() {
  signal::Audio audio{8000.0, std::vector<float>(1200)};
  for (std::size_t n = 0; n < audio.samples.size(); ++n)
    audio.samples[n] = 0.3f * static_cast<float>(std::sin(0.2 * static_cast<double>(n)));
  std::vector<std::string> files;
  using signal::SampleFormat;
  for (const auto format :
       {SampleFormat::kPcm16, SampleFormat::kPcm24, SampleFormat::kPcm32, SampleFormat::kFloat})
    files.push_back(*signal::wav_bytes(audio, format));
  const auto path = std::filesystem::temp_directory_path() /
                    ("phren_fuzz_seed_" + std::to_string(::getpid()) + ".flac");
  if (signal::write_audio(path, audio)) {
    files.push_back(*read_file(path));
    std::filesystem::remove(path);
  }
  return files;
}

// One hurt, or up to eight: bits, bytes, runs, lengths, cuts, repeats. Headers are hurt more often.
inline std::string mutated(std::string file, RandomStream& random) {
  const std::uint32_t hurts = random.chance(0.5) ? 1 : 1 + random.below(8);
  for (std::uint32_t h = 0; h < hurts && !file.empty(); ++h) {
    const auto size = static_cast<std::uint32_t>(file.size());
    const std::uint32_t at = random.below(random.chance(0.7) ? std::min(size, 80u) : size);
    switch (random.below(6)) {
      case 0:
        file[at] = static_cast<char>(file[at] ^ (1 << random.below(8)));
        break;
      case 1:
        file[at] = static_cast<char>(random.below(256));
        break;
      case 2:
        for (std::uint32_t i = at; i < std::min(size, at + 1 + random.below(16)); ++i)
          file[i] = static_cast<char>(random.chance(0.5) ? 0xFF : 0x00);
        break;
      case 3:
        file.resize(at);
        break;
      case 4:
        file.insert(at, file.substr(random.below(size), random.below(64)));
        break;
      default:
        file.erase(at, random.below(32));
    }
  }
  return file;
}

// Damaged files no two of which are alike, nor like what they were made from.
class MutatedFiles {
 public:
  explicit MutatedFiles(std::uint64_t seed)
      : random_(Seed{seed}, "mutated files"),
        originals_(seed_files()),
        seen_(originals_.begin(), originals_.end()) {}
  const std::string& next() {
    while (true) {
      const auto [file, is_new] = seen_.insert(mutated(originals_[from_], random_));
      from_ = (from_ + 1) % originals_.size();
      if (is_new) return *file;
    }
  }
  std::size_t num_given() const { return seen_.size() - originals_.size(); }

 private:
  RandomStream random_;
  std::vector<std::string> originals_;
  std::unordered_set<std::string> seen_;
  std::size_t from_ = 0;
};

}  // namespace phren::fuzz
