// What every source is told once per chunk: the body now and before, the listening point, the time.
//
// Threads: one scene belongs to one renderer. Errors: none.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "acoustics/paths.h"
#include "acoustics/types.h"
#include "patient/types.h"

namespace phren::acoustics {

// Events made and not yet collected: a ring of fixed size, so nothing is allocated in real time.
class TruthRing {
 public:
  static constexpr std::size_t kCapacity = 2048;
  void push(const TruthEvent& event) noexcept;
  std::size_t drain(std::span<TruthEvent> out) noexcept;
  std::uint64_t lost() const noexcept { return lost_; }

 private:
  std::array<TruthEvent, kCapacity> events_{};
  std::size_t first_ = 0, count_ = 0;
  std::uint64_t lost_ = 0;
};

// Numbers of one person that scale the sources.
struct BodyScale {
  double flow_L_per_s = 1.0;  // 15 mL/s per kg of the weight that goes with the height
  double pitch = 1.0;         // airways of a smaller body sound higher
  double volume_L = 1.0;      // lung size against an adult's
};
BodyScale body_scale(const patient::Person& person) noexcept;

inline constexpr double kFlowExponent = 1.66;
// Share of each lobe in a healthy breath (standing): physiology, PMC7490509.
inline constexpr std::array<double, exam::kNumLobes> kLobeShare = {0.176, 0.085, 0.272, 0.224,
                                                                   0.243};

// Power per Hz of everything that hides a finding, by frequency, before the wall.
class Background {
 public:
  struct Part {
    double density = 0.0;  // full scale per root Hz below the corner
    double corner_hz = 1000.0, q = 0.75, pole_hz = 4000.0, low_cut_hz = 0.0;
  };
  void clear() noexcept { count_ = 0; }
  void add(const Part& part) noexcept;
  std::size_t size() const noexcept { return count_; }
  double power_per_hz(double f_hz) const noexcept { return power_per_hz(f_hz, 0, count_); }
  double power_between(double low_hz, double high_hz) const noexcept {
    return power_between(low_hz, high_hz, 0, count_);
  }
  // Of the parts first..last - 1 alone.
  double power_per_hz(double f_hz, std::size_t first, std::size_t last) const noexcept;
  double power_between(double low_hz, double high_hz, std::size_t first,
                       std::size_t last) const noexcept;
  // How far the first `count` parts stand above the others, as a ratio of powers, in the narrow band between these
  // frequencies where they stand out most: an ear listens band by band, so noise that fills one leaves another free.
  double clearest_ratio(double low_hz, double high_hz, std::size_t count) const noexcept;

 private:
  static constexpr int kSteps = 6;  // of half an octave or so between 100 and 1000 Hz
  std::array<Part, 48> parts_{};
  std::size_t count_ = 0;
};

// Equivalent rectangular bandwidth of hearing at f (Glasberg & Moore 1990, from memory).
double hearing_bandwidth_hz(double f_hz) noexcept;

struct Scene {
  double sample_rate_hz = 48000.0;
  std::size_t frames = 0;
  double start_s = 0.0, step_s = 0.0;  // patient time at the first frame; length of the chunk
  const patient::Snapshot* before = nullptr;
  const patient::Snapshot* now = nullptr;
  const Torso* torso = nullptr;
  const Hearing* hearing = nullptr;
  BodyScale scale;
  Background* background = nullptr;
  // Levels above background are judged every few chunks: 10 ms is finer than any ear.
  bool is_judging = true;
  bool is_way_new = true;  // `hearing` differs from the last chunk's
  TruthRing* truth = nullptr;
  // The heart as on a patient: split, changing from beat to beat, so much louder; 0 = plain.
  double heart_detail = 0.0, heart_level_db = 0.0;
};

// How far a sound of this level (mean square, before the wall) stands above what hides it.
double tone_above_background_db(const Background& background, double f_hz,
                                double mean_square) noexcept;
double transient_above_background_db(const Background& background, double f_hz,
                                     double peak) noexcept;
inline constexpr double kToneThreshold_db = -2.0;      // 0 to -4 dB re noise in one bandwidth
inline constexpr double kTransientThreshold_db = 6.0;  // peak re background root mean square

}  // namespace phren::acoustics
