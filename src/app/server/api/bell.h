// Wakes a thread that waits for work; rung before it waits, it does not wait.
//
// Threads: any.
#pragma once

#include <chrono>
#include <condition_variable>
#include <mutex>

namespace phren::app::server {

class Bell {
 public:
  void ring() {
    {
      const std::lock_guard lock(mutex_);
      has_rung_ = true;
    }
    changed_.notify_all();
  }
  void wait() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return has_rung_; });
    has_rung_ = false;
  }
  void wait_at_most(std::chrono::milliseconds most) {
    std::unique_lock lock(mutex_);
    changed_.wait_for(lock, most, [&] { return has_rung_; });
    has_rung_ = false;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  bool has_rung_ = false;
};

}  // namespace phren::app::server
