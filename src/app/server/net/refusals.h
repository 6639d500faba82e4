// Every refusal goes to the audit log here and nowhere else: who was refused what, and from where.
//
// Errors:  none: a refusal stands even when the store cannot keep the note of it.
// Limits:  of one network address at most 120 a minute, so that a flood cannot fill the disk.
// Threads: any.
#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <string>

#include "app/server/api/desk.h"
#include "app/server/net/http.h"

namespace phren::app::server {

// How many refusals of one network address are still written down this minute.
class RefusalMeter {
 public:
  enum class Verdict { kWrite, kWriteLast, kSkip };
  Verdict count(const std::string& remote, std::int64_t now_ms);
  // Whether count() would say kSkip; counts nothing.
  bool is_spent(const std::string& remote, std::int64_t now_ms) const;

 private:
  static constexpr int kMostPerMinute = 120;
  struct Count {
    std::int64_t minute = 0;
    int refusals = 0;
  };
  mutable std::mutex mutex_;
  std::map<std::string, Count> counts_;
};

class RefusalLog {
 public:
  // True when note() would write: a refusal (4xx) that is not written down yet, of an address that
  // has not had its share.
  bool wants(const Request& request, const Response& response, std::int64_t now_ms) const;
  // Writes it down, once. Who asked is what the response says, else whose session it came with.
  void note(Desk& desk, const Request& request, Response& response);

 private:
  RefusalMeter meter_;
};

}  // namespace phren::app::server
