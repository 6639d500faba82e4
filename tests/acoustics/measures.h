// Measures of rendered sound that the acoustics tests share.
#pragma once

#include <cmath>
#include <span>
#include <vector>

#include "acoustics/synthetic_breath.h"
#include "signal/envelope.h"
#include "signal/stft.h"

namespace phren::acoustics::testing {

// Averaged power spectrum, power per Hz, over parts of the sound.
struct Spectrum {
  double bin_hz = 1.0;
  std::vector<double> power_per_hz;
  double band_power(double low_hz, double high_hz) const {
    double sum = 0.0;
    for (std::size_t k = 0; k < power_per_hz.size(); ++k) {
      const double f = static_cast<double>(k) * bin_hz;
      if (f >= low_hz && f < high_hz) sum += power_per_hz[k] * bin_hz;
    }
    return sum;
  }
  double level_db(double low_hz, double high_hz) const {
    return 10.0 * std::log10(band_power(low_hz, high_hz) + 1e-20);
  }
  // Frequency below which the share lies of the power between low and high.
  double quantile_hz(double share, double low_hz, double high_hz) const {
    const double goal = share * band_power(low_hz, high_hz);
    double sum = 0.0;
    for (std::size_t k = 0; k < power_per_hz.size(); ++k) {
      const double f = static_cast<double>(k) * bin_hz;
      if (f < low_hz) continue;
      sum += power_per_hz[k] * bin_hz;
      if (sum >= goal) return f;
    }
    return high_hz;
  }
  // Slope in dB per octave by least squares over third-octave steps.
  double slope_db_per_octave(double low_hz, double high_hz) const {
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (double f = low_hz; f * 1.0595 <= high_hz * 1.001; f *= 1.1225) {
      const double x = std::log2(f * 1.0595);
      const double y = 10.0 * std::log10(band_power(f, f * 1.1225) / (f * 0.1225) + 1e-20);
      n += 1, sx += x, sy += y, sxx += x * x, sxy += x * y;
    }
    return (n * sxy - sx * sy) / (n * sxx - sx * sx);
  }
};

inline Spectrum spectrum_of(std::span<const float> samples, double sample_rate_hz,
                            std::size_t fft_size = 8192) {
  auto stft = signal::Stft::make({fft_size, fft_size, fft_size / 2});
  std::vector<float> power(stft->num_frames(samples.size()) * stft->num_bins());
  stft->process(samples, power);
  Spectrum out;
  out.bin_hz = sample_rate_hz / static_cast<double>(fft_size);
  out.power_per_hz.assign(stft->num_bins(), 0.0);
  const std::size_t frames = power.size() / stft->num_bins();
  for (std::size_t f = 0; f < frames; ++f) {
    for (std::size_t k = 0; k < stft->num_bins(); ++k) {
      out.power_per_hz[k] += static_cast<double>(power[f * stft->num_bins() + k]) * 2.0 /
                             (sample_rate_hz * static_cast<double>(frames));
    }
  }
  return out;
}

// The part of the sound of one phase, the middle 70 % of each.
inline std::vector<float> phase_part(const Rendered& sound, const SyntheticBreath& breath,
                                     exam::Phase phase, double from_s = 0.0) {
  std::vector<float> out;
  for (std::size_t i = 0; i < sound.samples.size(); ++i) {
    const auto s = breath.at(from_s + static_cast<double>(i) / sound.sample_rate_hz);
    const double length =
        phase == exam::Phase::kInspiration ? breath.inspiration_s : breath.expiration_s;
    if (s.phase == phase && s.since_phase_s > 0.15 * length && s.since_phase_s < 0.85 * length) {
      out.push_back(sound.samples[i]);
    }
  }
  return out;
}

inline std::size_t count(const std::vector<TruthEvent>& events, exam::Sound sound) {
  std::size_t n = 0;
  for (const TruthEvent& e : events) n += e.sound == sound && e.audible ? 1 : 0;
  return n;
}

}  // namespace phren::acoustics::testing
