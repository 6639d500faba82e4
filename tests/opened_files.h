// Which data files are opened while a test watches: the kernel tells, so nothing in the program counts. It does not tell
// by whom, so the program is given a copy of its data that no other test reads.
#pragma once

#include <sys/inotify.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <string>

#include "base/files.h"

namespace phren {

// While it lives, this process and its children find their data in a copy.
class OwnData {
 public:
  OwnData()
      : folder_(std::filesystem::temp_directory_path() /
                ("phren_data_" + std::to_string(getpid()))) {
    const auto from = data_directory();
    if (const char* chosen = std::getenv("PHREN_DATA"); chosen != nullptr) before_ = chosen;
    std::filesystem::create_directory(folder_);
    std::filesystem::copy(from, folder(), std::filesystem::copy_options::recursive);
    std::filesystem::create_symlink(from.parent_path() / "model", folder_ / "model");
    setenv("PHREN_DATA", folder().c_str(), 1);
  }
  ~OwnData() {
    before_.empty() ? unsetenv("PHREN_DATA") : setenv("PHREN_DATA", before_.c_str(), 1);
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  OwnData(const OwnData&) = delete;
  OwnData& operator=(const OwnData&) = delete;
  std::filesystem::path folder() const { return folder_ / "data"; }

 private:
  std::filesystem::path folder_;
  std::string before_;
};

class OpenedFiles {
 public:
  explicit OpenedFiles(const std::filesystem::path& folder) : queue_(inotify_init1(IN_NONBLOCK)) {
    watch(folder);
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
      if (entry.is_directory()) watch(entry.path());
    }
    counts();  // what this very listing opened
  }
  ~OpenedFiles() { close(queue_); }
  OpenedFiles(const OpenedFiles&) = delete;
  OpenedFiles& operator=(const OpenedFiles&) = delete;

  // How often each file was opened since the last call.
  std::map<std::string, int> counts() {
    std::map<std::string, int> out;
    alignas(inotify_event) std::array<char, 1 << 16> buffer;
    for (ssize_t got = read(queue_, buffer.data(), buffer.size()); got > 0;
         got = read(queue_, buffer.data(), buffer.size())) {
      for (ssize_t at = 0; at < got;) {
        const auto* event = reinterpret_cast<const inotify_event*>(buffer.data() + at);
        at += static_cast<ssize_t>(sizeof(inotify_event) + event->len);
        if ((event->mask & IN_ISDIR) != 0 || event->len == 0) continue;
        ++out[folders_[event->wd] + "/" + event->name];
      }
    }
    return out;
  }

 private:
  void watch(const std::filesystem::path& folder) {
    folders_[inotify_add_watch(queue_, folder.c_str(), IN_OPEN)] = folder.string();
  }
  int queue_;
  std::map<int, std::string> folders_;
};

}  // namespace phren
