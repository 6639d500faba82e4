// The one clock of a class: it never jumps, whatever is done to the clock of the machine.
//
// Rules:   when the server starts it takes the machine's time, or the newest time in the store if the
//          machine's is behind that (a clock set back while the server was down must not make what is
//          stored come from the future; more than a day is a wrong store, and the machine is
//          believed). From then on it counts the seconds that have passed, also while the machine
//          slept, and nothing else.
// Units:   milliseconds since 1970 UTC.
// Threads: now_ms() from any.
#pragma once

#include <cstdint>
#include <functional>

namespace phren::app::server {

struct ClockSources {
  std::function<std::int64_t()> wall_ms = {};    // empty: the machine's
  std::function<std::int64_t()> passed_ms = {};  // empty: the time since the machine was started
};

class ClassClock {
 public:
  explicit ClassClock(std::int64_t newest_stored_ms = 0, const ClockSources& sources = {});
  std::int64_t now_ms() const;
  // When this server began, and how long before that nothing was stored: during that time nobody could
  // send what he did, so it counts against nobody.
  std::int64_t began_ms() const { return began_ms_; }
  std::int64_t gap_ms() const { return gap_ms_; }
  // How far the machine's clock is ahead of this one.
  std::int64_t drift_ms() const;

 private:
  ClockSources sources_;
  std::int64_t began_ms_, gap_ms_, passed_at_begin_ms_;
};

}  // namespace phren::app::server
