// Normal breath sound: turbulence in the airways of each lobe, as twenty-four noise sources.
//
// Shapes:  process() adds to `out`, one Lanes per frame, frames <= kChunk.
// Units:   density in full scale per root Hz at the skin, before the wall.
// Errors:  none; nothing allocates.
// Source:  amplitude as flow^1.66, inspiration 6-11 dB above expiration at equal flow, left base
//          2.4 dB louder (Gavriely & Cugell 1996; Kompis 1997); falls of 12.7-15.2 and 13.4-20.3 dB
//          per octave (Gavriely 1995); median frequencies (Malmberg 1995; Kanga & Kraman 1986).
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

// Sets -30 dB re full scale at the back base of an adult breathing in at 1 L/s.
inline constexpr double kBreathDensity = 1.40e-3;
inline constexpr double kBreathSourceQ = 0.72;

class BreathNoise {
 public:
  explicit BreathNoise(Seed seed) noexcept;
  // Control step: levels and corners at the end of the chunk; adds itself to the background.
  void update(const Scene& scene) noexcept;
  void process(Lanes* out, std::size_t frames) noexcept;
  std::size_t active_groups() const noexcept { return active_; }

 private:
  static constexpr std::size_t kGroups = kNumPoints / kLanes;
  struct Group {
    LaneBits noise{};
    LaneFilter filter;
    Lanes pole{}, pole_a{};
    Lanes gain{}, gain_step{}, target{};
    bool audible = false;
    Lanes step() noexcept;
    void keep(const Group& moved) noexcept {
      noise = moved.noise;
      filter = moved.filter;
      pole = moved.pole;
    }
  };
  std::array<Group, kGroups> groups_;
  std::array<double, kNumPoints> pole_hz_{};
  std::size_t active_ = 0;
};

// Loudness of one lobe against a healthy one at the reference flow, and the corner of its spectrum.
struct LobeNoise {
  double amplitude = 0.0;
  double corner_hz = 250.0;
  double pole_ratio = 1.0;  // of the corner of the way through the lung
};
LobeNoise lobe_noise(const patient::LobeState& lobe, double share, const BodyScale& scale) noexcept;

}  // namespace phren::acoustics
