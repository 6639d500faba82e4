#include "app/cli/progress.h"

#include <ostream>

namespace phren::app {
namespace {
constexpr std::chrono::milliseconds kTerminalPause{100};
constexpr std::chrono::milliseconds kPlainPause{3000};
}  // namespace

Progress::Progress(const Context& context, std::string what, std::size_t total)
    : context_(context),
      what_(std::move(what)),
      total_(total),
      next_(Clock::now() + (context.is_terminal ? kTerminalPause : kPlainPause)) {}

Progress::~Progress() {
  if (shown_ && context_.is_terminal) context_.err << "\r\033[K" << std::flush;
}

void Progress::step(const std::string& done) {
  const std::lock_guard lock(mutex_);
  ++count_;
  if (Clock::now() < next_) return;
  next_ = Clock::now() + (context_.is_terminal ? kTerminalPause : kPlainPause);
  shown_ = true;
  if (context_.is_terminal) context_.err << '\r';
  context_.err << what_ << ' ' << count_ << '/' << total_ << " (" << done << ')'
               << (context_.is_terminal ? "\033[K" : "\n") << std::flush;
}

}  // namespace phren::app
