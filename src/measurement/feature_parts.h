// The groups of numbers that features.h strings together; private to this room.
//
// Shapes:  each function returns its values in the order of feature_names().
// Source:  definitions of our own after the usual descriptors of spectra and waveforms; Teager
// energy
//          x[n]^2 - x[n-1] x[n+1]; kurtosis is the fourth standardised moment (3 for Gaussian
//          noise).
#pragma once

#include <array>
#include <span>
#include <utility>
#include <vector>

#include "measurement/analysis.h"

namespace phren::measurement {

struct Stretch {  // part of an Analysis
  const Analysis* analysis = nullptr;
  std::size_t first_frame = 0, num_frames = 0;
  std::span<const float> high_passed, crackle_band;
  std::span<const float> energy_db, background_db;
  std::array<float, kShortBins> mean_power{};  // over the frames
  std::span<const FrameMeasures> frames;
  double level_db = -140.0;  // mean broadband level
};
Stretch stretch_of(const Analysis& analysis, double start_s, double end_s);

struct Bands {
  double share_below_60hz = 0.0;
  std::array<float, kNumFeatureBands> level_db{}, spread_db{}, peak_db{};
};
Bands measure_bands(const Stretch& s);
std::array<float, 13> measure_shape(const Stretch& s);  // centroid first
// Mean and 90th percentile of the strongest bin's height, share of frames over 8 and over 12 dB.
std::array<float, 4> measure_tones(const Stretch& s, std::size_t range);
// Best path: mean height, best five frames, longest run over 8 dB (s), share over 8 dB, median Hz.
std::array<float, 5> measure_ridge(const Stretch& s, double low_hz, double high_hz);
std::array<float, 2> measure_regularity(const Stretch& s);
// Kurtosis of waveform, of > 200 Hz, of the prediction residual, of Teager energy; shares of time
// 6, 9 and 12 dB over the local background.
std::array<float, 7> measure_peakedness(const Stretch& s);
std::array<float, 7> measure_envelope(const Stretch& s);

double mean_of(std::span<const double> values);     // 0 for none
double middle_of(std::vector<double> values);       // median; 0 for none
double kurtosis_of(std::span<const float> values);  // 0 for a constant

}  // namespace phren::measurement
