// Reading and writing whole files, with errors that name the file. Writing is atomic: a reader sees
// the old file or the new one, never half, and a failed write leaves the old file as it was.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren {

// Refuses files over `max_bytes` with kUnsupported, so a wrong path cannot eat the memory.
Result<std::string> read_file(const std::filesystem::path& path,
                              std::uintmax_t max_bytes = 64u << 20);
Status write_file(const std::filesystem::path& path, std::string_view contents);
Status make_directories(const std::filesystem::path& path);

// The folder of data files: $PHREN_DATA if set, else `data` beside the program or above it, else
// the source tree's.
std::filesystem::path data_directory();

}  // namespace phren
