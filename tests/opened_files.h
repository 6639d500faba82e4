// Which files of a folder are opened while a test watches: the kernel tells, so nothing in the program counts.
#pragma once

#include <sys/inotify.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <map>
#include <string>

namespace phren {

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
