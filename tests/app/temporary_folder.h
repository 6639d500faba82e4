// A folder that is gone when the test is.
#pragma once

#include <stdlib.h>

#include <filesystem>
#include <string>

namespace phren::app {

class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "phren-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~TemporaryFolder() { std::filesystem::remove_all(path_); }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::string file(const char* name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

}  // namespace phren::app
