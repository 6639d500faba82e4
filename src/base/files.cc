#include "base/files.h"

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <system_error>

namespace phren {
namespace fs = std::filesystem;

Result<std::string> read_file(const fs::path& path, std::uintmax_t max_bytes) {
  std::error_code error;
  if (!fs::exists(path, error)) {
    return fail(ErrorCode::kNotFound, path.string() + ": no such file");
  }
  if (fs::is_directory(path, error)) {
    return fail(ErrorCode::kInvalidArgument, path.string() + ": is a folder; a file is needed");
  }
  const auto too_large = [&](const std::string& size) {
    return fail(ErrorCode::kUnsupported, path.string() + ": is " + size + " bytes; at most " +
                                             std::to_string(max_bytes) + " are read here");
  };
  const auto size = fs::file_size(path, error);
  if (!error && size > max_bytes) return too_large(std::to_string(size));
  std::ifstream in(path, std::ios::binary);
  if (!in) return fail(ErrorCode::kIo, path.string() + ": cannot be read: " + std::strerror(errno));
  // A pipe or a device has no size to ask for, and need not end.
  std::string text;
  std::array<char, 65536> block;
  while (in.read(block.data(), block.size()), in.gcount() > 0) {
    text.append(block.data(), static_cast<std::size_t>(in.gcount()));
    if (text.size() > max_bytes) return too_large("more than " + std::to_string(max_bytes));
  }
  return text;
}

Status write_file(const fs::path& path, std::string_view contents) {
  fs::path temporary = path;
  temporary += ".part";
  {
    std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
    out.write(contents.data(), static_cast<std::streamsize>(contents.size()));
    out.flush();
    if (!out) {
      const std::string reason = std::strerror(errno);
      std::error_code ignored;
      fs::remove(temporary, ignored);
      return fail(ErrorCode::kIo, path.string() + ": cannot be written: " + reason);
    }
  }
  std::error_code error;
  fs::rename(temporary, path, error);
  if (error) return fail(ErrorCode::kIo, path.string() + ": cannot be written: " + error.message());
  return {};
}

Status make_directories(const fs::path& path) {
  std::error_code error;
  fs::create_directories(path, error);
  if (error || !fs::is_directory(path)) {
    return fail(ErrorCode::kIo, path.string() + ": the folder cannot be made: " +
                                    (error ? error.message() : "something else is there"));
  }
  return {};
}

fs::path data_directory() {
  if (const char* chosen = std::getenv("PHREN_DATA"); chosen != nullptr && *chosen != '\0') {
    return chosen;
  }
  std::error_code error;
  const fs::path program = fs::read_symlink("/proc/self/exe", error);
  if (!error) {
    for (fs::path folder = program.parent_path(); folder.has_relative_path();
         folder = folder.parent_path()) {
      for (const char* name : {"data", "share/phren/data"}) {
        if (fs::exists(folder / name / "sites.toml", error)) return folder / name;
      }
    }
  }
  return fs::path(PHREN_SOURCE_DIR) / "data";
}

}  // namespace phren
