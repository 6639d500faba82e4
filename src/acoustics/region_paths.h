// The way of each region's own events (crackles, windpipe, heart) to the skin: eight filters side
// by side.
//
// Shapes:  process() filters `in` (one Lanes per frame: five lobes, windpipe through lung, windpipe
//          through solid lung, heart) and adds to `out`.
// Errors:  none; nothing allocates.
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"

namespace phren::acoustics {

class RegionPaths {
 public:
  static constexpr std::size_t kThroughLung = 5, kThroughSolid = 6, kHeart = 7;
  void update(const Scene& scene, bool sounding) noexcept;
  void process(const Lanes* in, Lanes* out, std::size_t frames) noexcept;
  bool is_active() const noexcept { return active_; }

 private:
  void set_ways(const Hearing& h, double sample_rate_hz) noexcept;
  LaneFilter filter_;
  Lanes through_{}, low_{}, band_{};  // shares of input, low-pass and band-pass output
  Lanes pole_{}, pole_a_{}, gain_{}, gain_step_{}, target_{};
  int quiet_chunks_ = 100;
  bool active_ = false;
};

}  // namespace phren::acoustics
