// Seven bands, 20-45-80-150-250-400-650 Hz and up, in which breath noise flutters and the floor
// lies; and slow random walks for their levels.
//
// Source:  the bands in which the recordings were measured (docs/validation/acoustics.md).
#pragma once

#include <array>

#include "acoustics/instrument.h"
#include "acoustics/lanes.h"
#include "base/random.h"

namespace phren::acoustics {

inline constexpr std::array<double, kLanes> kBandMiddle_hz = {30.0,  60.0,  110.0,  194.0,
                                                              316.0, 510.0, 1000.0, 1000.0};
inline constexpr std::array<double, kLanes> kBandWidth_hz = {25.0,  35.0,  70.0,  100.0,
                                                             150.0, 250.0, 900.0, 900.0};

// First-order Gauss-Markov process of unit spread.
class Walk {
 public:
  void start(RandomStream& draw) noexcept { x_ = draw.normal(); }
  double step(RandomStream& draw, double keep, double renew) noexcept {
    x_ = keep * x_ + renew * draw.normal();
    return x_;
  }
  double now() const noexcept { return x_; }

 private:
  double x_ = 0.0;
};

struct WalkPace {
  double keep, renew;
  WalkPace(double step_s, double memory_s) noexcept
      : keep(det::exp(-step_s / memory_s)), renew(det::sqrt(1.0 - keep * keep)) {}
};

// One walk for each band, of which each shares part with `kReach` - 1 bands to either side of it: at
// reach 2 neighbours correlate by up to 0.5 and others not at all; at reach 4 by 0.75, then 0.5, 0.25.
template <std::size_t kReach>
class BandWalks {
 public:
  void start(RandomStream& draw) noexcept {
    for (Walk& walk : own_) walk.start(draw);
    for (Walk& walk : common_) walk.start(draw);
  }
  std::array<double, kNumBands> step(RandomStream& draw, const WalkPace& pace,
                                     double shared) noexcept {
    std::array<double, kNumBands> out{};
    const double own = det::sqrt(1.0 - shared);
    const double common = det::sqrt(shared / static_cast<double>(kReach));
    for (std::size_t k = 0; k < kNumBands; ++k) {
      out[k] = own * own_[k].step(draw, pace.keep, pace.renew);
    }
    for (std::size_t c = 0; c < common_.size(); ++c) {
      const double x = common * common_[c].step(draw, pace.keep, pace.renew);
      for (std::size_t r = 0; r < kReach; ++r) {
        if (c >= r && c - r < kNumBands) out[c - r] += x;
      }
    }
    return out;
  }

 private:
  std::array<Walk, kNumBands> own_;
  std::array<Walk, kNumBands + kReach - 1> common_;
};

// Drawn once, with neighbours alike.
inline std::array<double, kNumBands> band_offsets(RandomStream& draw, double sd_db) noexcept {
  std::array<double, kNumBands> out{};
  double below = draw.normal();
  for (double& one : out) {
    const double above = draw.normal();
    one = sd_db * 0.7071 * (below + above);
    below = above;
  }
  return out;
}

// A lane's gain in a straight line over one chunk.
struct LaneRamp {
  Lanes now{}, step{}, target{};
  void aim(const Lanes& to, std::size_t frames) noexcept {
    now = target;
    target = to;
    step = (target - now) * (1.0f / static_cast<float>(frames));
  }
};

}  // namespace phren::acoustics
