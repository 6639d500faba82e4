// Plays a device of a round at the pace of a loudspeaker: keeps a small reserve behind what the server has
// allowed, is silent where there is nothing, and hurries when it has fallen behind.
//
// The reserve covers the time between two words of the server and what they are late by. What the loudspeaker
// gets is the device's sound, but for short ramps where it stops and goes on.
// Threads: that of the device.
#pragma once

#include <algorithm>
#include <span>

#include "bedside/round_device.h"

namespace phren::bedside {

class RoundPlayout {
 public:
  // ENGINEERING: the server speaks every 40 ms (5 steps); 70 ms more may pass unnoticed.
  static constexpr std::int64_t kReserve_steps = 10;
  static constexpr std::int64_t kMostBehind_steps = 26;
  // Further behind (a phone slept) nothing of what was missed is heard: the chestpiece is taken up anew.
  static constexpr std::int64_t kTakeUpBehind_steps = 10 * kStepsPerSecond;

  void render(RoundDevice& device, std::span<float> out) {
    if (device.take() != take_) {
      take_ = device.take();
      at_ = block_.size();
    }
    keep_up(device);
    for (float& sample : out) sample = next(device);
  }
  bool is_playing() const { return is_playing_; }

 private:
  static constexpr float kFall = 0.985F;
  static constexpr int kRamp_frames = 256;
  static constexpr int kLongestWait_frames = 12000;  // a quarter of a second at 48 kHz

  void keep_up(RoundDevice& device) {
    const std::int64_t behind = device.allowed() - device.step();
    if (behind > kTakeUpBehind_steps) {
      device.catch_up(device.allowed() - kReserve_steps);
      at_ = block_.size();
      return;
    }
    if (behind <= kMostBehind_steps) return;
    while (device.allowed() - device.step() > kReserve_steps) block_ = device.make_step();
    at_ = 0;
    ramp_ = kRamp_frames;
  }

  float next(RoundDevice& device) {
    if (at_ >= block_.size()) {
      const std::int64_t there = device.allowed() - device.step();
      // A time that stands still brings no reserve any more: what is left of it is lived all the same.
      if (!is_playing_ && there > 0) ++waited_frames_;
      if (!is_playing_ && (there >= kReserve_steps || waited_frames_ > kLongestWait_frames)) {
        is_playing_ = true;
        waited_frames_ = 0;
        ramp_ = kRamp_frames;
      }
      if (there <= 0) is_playing_ = false;
      if (!is_playing_) return last_ *= kFall;
      block_ = device.make_step();
      at_ = 0;
    }
    float sample = block_[at_++];
    if (ramp_ > 0) {
      sample *= 1.0F - static_cast<float>(ramp_--) / static_cast<float>(kRamp_frames);
    }
    return last_ = sample;
  }

  std::span<const float> block_;  // of the device's last step
  std::size_t at_ = 0;
  int take_ = 0, ramp_ = 0, waited_frames_ = 0;
  bool is_playing_ = false;
  float last_ = 0.0F;
};

}  // namespace phren::bedside
