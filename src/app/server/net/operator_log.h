// What whoever runs the server must know, one line of JSON each on standard error: when, how grave,
// what, whom or what it concerns, what to do.
//
// Shapes:  {"at": "2026-11-30T08:15:00Z", "level": "info" | "warning" | "error", "what": a fixed word,
//          "about": text, "do": text, "times": how often since the line before, when more than once}
// Safety:  the text carries no passwords, keys, names or statements of the store.
// Limits:  the same word at most once in ten seconds, so that trouble cannot fill the disk.
// Threads: any.
#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <mutex>
#include <string>
#include <string_view>

namespace phren::app::server {

enum class Level { kInfo, kWarning, kError };

class OperatorLog {
 public:
  using Write = std::function<void(const std::string& line)>;
  explicit OperatorLog(Write write = {});  // empty: standard error
  void tell(Level level, std::string_view what, std::string_view about,
            std::string_view to_do = {});

 private:
  struct Told {
    std::chrono::steady_clock::time_point at;
    int unsaid = 0;
  };
  Write write_;
  std::mutex mutex_;
  std::map<std::string, Told, std::less<>> told_;
};

}  // namespace phren::app::server
