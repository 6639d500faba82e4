#include "app/server/net/class_clock.h"

#include <time.h>

#include <algorithm>
#include <chrono>

namespace phren::app::server {
namespace {

constexpr std::int64_t kDay_ms = 24LL * 3600 * 1000;

std::int64_t machine_wall_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

// Counts on while the machine sleeps, unlike the steady clock of the library.
std::int64_t machine_passed_ms() {
  timespec now{};
  clock_gettime(CLOCK_BOOTTIME, &now);
  return static_cast<std::int64_t>(now.tv_sec) * 1000 + now.tv_nsec / 1'000'000;
}

}  // namespace

ClassClock::ClassClock(std::int64_t newest_stored_ms, const ClockSources& sources)
    : sources_(sources) {
  if (!sources_.wall_ms) sources_.wall_ms = machine_wall_ms;
  if (!sources_.passed_ms) sources_.passed_ms = machine_passed_ms;
  const std::int64_t wall = sources_.wall_ms();
  const bool is_behind = newest_stored_ms > wall && newest_stored_ms - wall < kDay_ms;
  began_ms_ = is_behind ? newest_stored_ms : wall;
  gap_ms_ =
      newest_stored_ms > 0 ? std::clamp<std::int64_t>(began_ms_ - newest_stored_ms, 0, kDay_ms) : 0;
  passed_at_begin_ms_ = sources_.passed_ms();
}

std::int64_t ClassClock::now_ms() const {
  return began_ms_ + sources_.passed_ms() - passed_at_begin_ms_;
}

std::int64_t ClassClock::drift_ms() const {
  return sources_.wall_ms() - now_ms();
}

}  // namespace phren::app::server
