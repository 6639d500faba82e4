// libFuzzer target: any bytes through the sound reader and, if they are a short sound, the
// measurer. Built with clang:
//   cmake --preset fuzz && cmake --build --preset fuzz --target reader_fuzz
//   mkdir -p out/corpus
//   LSAN_OPTIONS=suppressions=tests/lsan.supp build/fuzz/tests/fuzz/reader_fuzz -max_len=8192 \
//     -max_total_time=300 out/corpus
// An empty corpus folder is first filled with small sound files of every kind that Phren writes.
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>

#include "fuzz/mutate.h"
#include "measurement/measure.h"

extern "C" int LLVMFuzzerInitialize(int* argc, char*** argv) {
  for (int i = 1; i < *argc; ++i) {
    const std::filesystem::path folder = (*argv)[i];
    if (!std::filesystem::is_directory(folder) || !std::filesystem::is_empty(folder)) continue;
    int number = 0;
    for (const std::string& file : phren::fuzz::seed_files())
      std::ofstream(folder / ("seed" + std::to_string(number++)), std::ios::binary) << file;
  }
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace phren;
  static auto& measurer = *new measurement::Measurer(*measurement::Measurer::load());
  const auto audio =
      signal::read_audio_bytes({reinterpret_cast<const std::byte*>(data), size}, "fuzz.wav");
  if (audio && audio->duration_s() < 2.0)
    (void)measurer.measure(*audio, {.is_fast = true, .given_s = {}});
  return 0;
}
