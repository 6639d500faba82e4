// One pass over a piece of sound: the spectra and band signals that all measures share.
//
// Shapes:  frame t is centred on sample 80 t of the piece (20 ms apart), ceil(n / 80) frames;
//          outside the piece the signal is zero. long_power[t * kLongBins + k], bins of 7.8125 Hz
//          from 0; short_power[t * kShortBins + k], bins of 15.625 Hz. energy[i] covers 4 ms
//          centred on millisecond i.
// Units:   power per bin of the windowed signal over the sum of squared window weights; dB of it.
// Threads: an Analyser and what it returns belong to one thread; the Analysis is valid until the
//          next call.
// Limits:  a piece may be any length; memory grows with it (about 9 kB a second per table), so long
//          recordings are cut into pieces (measure.h).
#pragma once

#include <array>
#include <span>
#include <utility>
#include <vector>

#include "measurement/types.h"
#include "signal/filter.h"
#include "signal/stft.h"

namespace phren::measurement {

inline constexpr std::size_t kHop = 80;  // samples at the work rate: 20 ms
inline constexpr double kFrame_s = 0.02;
// Only bins of the band that is measured are kept: up to 1305 and 1359 Hz.
inline constexpr std::size_t kLongWindow = 512, kLongBins = 168;   // 128 ms: tones
inline constexpr std::size_t kShortWindow = 192, kShortBins = 88;  // 48 ms: level, bands, change
inline constexpr double kLongBin_hz = kWorkRate_hz / 512.0;
inline constexpr double kShortBin_hz = kWorkRate_hz / 256.0;
inline constexpr std::size_t kToneBins = kLongBins;

// The high-pass corner behind every IDW, 2CD and LDW that Phren prints. The widths depend on it, so
// it is fixed: second-order Butterworth. Source: 95 Hz as in Piirila et al., Chest 1991;99:1076.
inline constexpr double kCrackleHighPass_hz = 95.0;
inline constexpr double kCrackleBandLow_hz = 200.0;  // transients are looked for above this

inline constexpr std::size_t kNumFeatureBands = 10;
inline constexpr std::array<double, kNumFeatureBands + 1> kFeatureBandEdges_hz{
    50, 100, 150, 200, 300, 400, 500, 650, 800, 1000, 1300};
inline constexpr std::array<std::pair<double, double>, 3> kToneRanges_hz{
    {{80.0, 250.0}, {250.0, 600.0}, {600.0, 1300.0}}};

struct FrameMeasures {
  std::array<float, kNumFeatureBands> band_power{}, band_db{};  // sums over bins of short_power
  std::array<float, kToneRanges_hz.size()> tone_db{};           // greatest height in each range
  float power = 0.0f;                                           // 50-1300 Hz
  float flux_db = 0.0f;                                         // mean change of the bins' levels
};

struct Analysis {
  std::span<const float> samples;
  std::size_t num_frames = 0;
  std::vector<float> long_power, short_power;
  std::vector<float> tone_db;         // [frame * kToneBins + bin], dB of long_power
  std::vector<float> tone_height_db;  // the same over its neighbourhood (+-3..10 bins)
  std::vector<FrameMeasures> frames;
  std::vector<float> broadband_db;      // per frame, 150-1000 Hz, tones left out
  std::vector<float> high_passed;       // at kCrackleHighPass_hz
  std::span<const float> crackle_band;  // above kCrackleBandLow_hz
  std::vector<float> energy_db;         // of crackle_band, per millisecond
  std::vector<float> background_db;     // local median of energy_db, per millisecond

  double duration_s() const { return static_cast<double>(samples.size()) / kWorkRate_hz; }
};

class Analyser {
 public:
  Analyser();
  const Analysis& analyse(std::span<const float> samples);

 private:
  void measure_frames(std::size_t first, std::size_t count);
  void measure_energy();

  signal::Stft long_, short_;
  std::array<signal::Biquad, 3> filters_;  // high-pass; crackle band in two sections
  std::vector<float> padded_, crackle_padded_, medians_;
  Analysis analysis_;
};

}  // namespace phren::measurement
