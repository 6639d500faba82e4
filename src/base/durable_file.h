// Writing a file that must outlive a power cut: on the disk, under its name, when the call returns.
//
// Errors:  kIo names the file; the old one, if there was one, is then as it was.
#pragma once

#include <filesystem>
#include <string_view>

#include "base/result.h"

namespace phren {

Status write_file_durably(const std::filesystem::path& path, std::string_view contents);

}  // namespace phren
