// Tells on standard error how far long work has come: one line rewritten on a terminal, else a line
// every few seconds, and nothing for work that is soon done.
//
// Threads: step() may be called from any thread.
#pragma once

#include <chrono>
#include <mutex>
#include <string>

#include "app/cli/command.h"

namespace phren::app {

class Progress {
 public:
  Progress(const Context& context, std::string what, std::size_t total);
  ~Progress();  // clears the line on a terminal
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  void step(const std::string& done);  // one more of `total` is done: `done` names it

 private:
  using Clock = std::chrono::steady_clock;
  const Context& context_;
  std::string what_;
  std::size_t total_, count_ = 0;
  Clock::time_point next_;
  bool shown_ = false;
  std::mutex mutex_;
};

}  // namespace phren::app
