#include "base/durable_file.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <system_error>

namespace phren {
namespace fs = std::filesystem;

Status write_file_durably(const fs::path& path, std::string_view contents) {
  fs::path temporary = path;
  temporary += ".part";
  const auto refuse = [&](int file) -> Status {
    const std::string reason = std::strerror(errno);
    if (file >= 0) ::close(file);
    std::error_code ignored;
    fs::remove(temporary, ignored);
    return fail(ErrorCode::kIo, path.string() + ": cannot be written: " + reason);
  };
  const int file = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
  if (file < 0) return refuse(file);
  for (std::size_t done = 0; done < contents.size();) {
    const ssize_t count = ::write(file, contents.data() + done, contents.size() - done);
    if (count < 0 && errno != EINTR) return refuse(file);
    if (count > 0) done += static_cast<std::size_t>(count);
  }
  if (::fsync(file) != 0) return refuse(file);
  ::close(file);
  if (::rename(temporary.c_str(), path.c_str()) != 0) return refuse(-1);
  // The new name is in the folder, which has its own place on the disk.
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  const int directory = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (directory >= 0) {
    ::fsync(directory);
    ::close(directory);
  }
  return {};
}

}  // namespace phren
