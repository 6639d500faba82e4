// libFuzzer target for the readers of text; the first byte chooses the reader. Built and run like
// reader_fuzz.cc.
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>

#include "fuzz/texts.h"

extern "C" int LLVMFuzzerInitialize(int* argc, char*** argv) {
  for (int i = 1; i < *argc; ++i) {
    const std::filesystem::path folder = (*argv)[i];
    if (!std::filesystem::is_directory(folder) || !std::filesystem::is_empty(folder)) continue;
    char which = 0;
    for (const auto& reader : phren::fuzz::text_readers()) {
      std::ofstream(folder / reader.name, std::ios::binary) << which++ << reader.whole;
    }
  }
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto& readers = phren::fuzz::text_readers();
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  readers[data[0] % readers.size()].read(text);
  return 0;
}
