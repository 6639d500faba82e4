#include "measurement/analysis.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "measurement/fast_math.h"
#include "measurement/lanes.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kGap = 2, kReach = 10;  // neighbourhood: bins 3 to 10 away on each side

signal::Biquad high_pass(double corner_hz, double q) {
  return signal::Biquad(*signal::make_section({.kind = signal::SectionKind::kHighPass,
                                               .sample_rate_hz = kWorkRate_hz,
                                               .centre_hz = corner_hz,
                                               .q = q}));
}

// A section whose feedback waits for one product and one sum only.
struct Section {
  explicit Section(const signal::BiquadCoefficients& c)
      : b0(c.b0), b1(c.b1), b2(c.b2), a1(c.a1), a2(c.a2) {}
  double step(double x) {
    const double y = b0 * x + s1;
    s1 = (b1 * x + s2) - a1 * y;
    s2 = b2 * x - a2 * y;
    return y;
  }
  double b0, b1, b2, a1, a2, s1 = 0.0, s2 = 0.0;
};

// All three sections in one pass: each waits for its own last output, so together they cost as one.
void filter_all(const std::array<signal::Biquad, 3>& filters, std::span<const float> in,
                float* high_passed, float* crackle_band) {
  Section high(filters[0].coefficients()), first(filters[1].coefficients()),
      second(filters[2].coefficients());
  for (std::size_t i = 0; i < in.size(); ++i) {
    const auto x = static_cast<double>(in[i]);
    high_passed[i] = static_cast<float>(high.step(x));
    crackle_band[i] = static_cast<float>(second.step(first.step(x)));
  }
}

PHREN_SIMD_CLONES void to_db(const float* power, std::size_t frames, float* db) {
  for (std::size_t t = 0; t < frames; ++t)
    for (std::size_t k = 0; k < kToneBins; ++k)
      db[t * kToneBins + k] = power_db(power[t * kLongBins + k]);
}

// Height of each bin over the mean of its neighbours in dB; at the ends the neighbours that exist.
PHREN_SIMD_CLONES void heights(const float* db, std::size_t frames, float* height) {
  std::array<float, kToneBins + 2 * kReach> row;
  for (std::size_t t = 0; t < frames; ++t) {
    const float* from = db + t * kToneBins;
    for (std::size_t k = 0; k < kReach; ++k) {  // mirror the ends
      row[k] = from[kReach - k];
      row[kToneBins + kReach + k] = from[kToneBins - 2 - k];
    }
    std::copy(from, from + kToneBins, row.begin() + kReach);
    for (std::size_t k = 0; k < kToneBins; ++k) {
      float sum = 0.0f;
      for (std::size_t d = kGap + 1; d <= kReach; ++d)
        sum += row[k + kReach - d] + row[k + kReach + d];
      height[t * kToneBins + k] = from[k] - sum * (0.5f / static_cast<float>(kReach - kGap));
    }
  }
}

// Energy of 16 samples around each millisecond (4 samples).
PHREN_SIMD_CLONES void millisecond_energy(const float* x, std::size_t count, float* energy) {
  for (std::size_t i = 0; i < count; ++i) {
    const float* from = x + 4 * i;
    float sum = 0.0f;
    for (std::size_t j = 0; j < 16; ++j) sum += from[j] * from[j];
    energy[i] = power_db(sum * (1.0f / 16.0f));
  }
}

constexpr std::size_t short_bin(double hz) {
  return static_cast<std::size_t>(hz / kShortBin_hz + 0.5);
}
constexpr std::size_t long_bin(double hz) {
  return static_cast<std::size_t>(hz / kLongBin_hz + 0.5);
}

PHREN_SIMD_CLONES void frame_measures(const float* short_power, const float* tone_db,
                                      const float* height_db, std::size_t frames,
                                      FrameMeasures* out) {
  for (std::size_t t = 0; t < frames; ++t) {
    FrameMeasures& m = out[t];
    const float* row = short_power + t * kShortBins;
    m.power = 0.0f;
    for (std::size_t b = 0; b < kNumFeatureBands; ++b) {
      float sum = 0.0f;
      for (std::size_t k = short_bin(kFeatureBandEdges_hz[b]);
           k < short_bin(kFeatureBandEdges_hz[b + 1]); ++k)
        sum += row[k];
      m.band_power[b] = sum;
      m.power += sum;
    }
    for (std::size_t b = 0; b < kNumFeatureBands; ++b) m.band_db[b] = power_db(m.band_power[b]);
    const float* heights_now = height_db + t * kToneBins;
    for (std::size_t r = 0; r < kToneRanges_hz.size(); ++r) {
      const std::size_t low = long_bin(kToneRanges_hz[r].first);
      const std::size_t high = std::min(long_bin(kToneRanges_hz[r].second), kToneBins);
      m.tone_db[r] =
          lane_max(high - low, -100.0f, [&](std::size_t i) { return heights_now[low + i]; });
    }
    const float* now = tone_db + t * kToneBins;
    const float* before = now - (t > 0 ? kToneBins : 0);
    constexpr std::size_t kFirst = 8;
    m.flux_db = lane_sum(kToneBins - kFirst,
                         [&](std::size_t i) {
                           const float change = now[kFirst + i] - before[kFirst + i];
                           return change < 0.0f ? -change : change;
                         }) *
                (1.0f / static_cast<float>(kToneBins - kFirst));
  }
}

// Median of the bin levels in 150-1000 Hz: one or two tones hardly move it.
float broadband(const float* db) {
  constexpr std::size_t kLow = 19, kHigh = 128, kStep = 5;
  std::array<float, (kHigh - kLow) / kStep + 1> levels;
  std::size_t n = 0;
  for (std::size_t k = kLow; k <= kHigh; k += kStep) levels[n++] = db[k];
  std::nth_element(levels.begin(), levels.begin() + n / 2, levels.begin() + n);
  return levels[n / 2];
}

}  // namespace

Analyser::Analyser()
    : long_(*signal::Stft::make({512, kLongWindow, kHop})),
      short_(*signal::Stft::make({256, kShortWindow, kHop})),
      filters_{high_pass(kCrackleHighPass_hz, std::sqrt(0.5)),
               // Butterworth of order four: q = 1 / (2 sin(pi / 8)) and 1 / (2 sin(3 pi / 8)).
               high_pass(kCrackleBandLow_hz, 0.5 / std::sin(M_PI / 8.0)),
               high_pass(kCrackleBandLow_hz, 0.5 / std::sin(3.0 * M_PI / 8.0))} {}

const Analysis& Analyser::analyse(std::span<const float> samples) {
  analysis_.samples = samples;
  analysis_.num_frames = (samples.size() + kHop - 1) / kHop;
  measure_spectra();
  measure_tones();
  measure_frames();
  measure_energy();
  return analysis_;
}

void Analyser::measure_spectra() {
  const std::size_t frames = analysis_.num_frames;
  constexpr std::size_t kLead = kLongWindow / 2;
  padded_.assign(kLead + frames * kHop + kLongWindow, 0.0f);
  std::copy(analysis_.samples.begin(), analysis_.samples.end(), padded_.begin() + kLead);
  analysis_.long_power.resize(frames * kLongBins);
  analysis_.short_power.resize(frames * kShortBins);
  if (frames == 0) return;
  const std::size_t span = (frames - 1) * kHop;
  long_.process({padded_.data(), span + kLongWindow}, analysis_.long_power);
  short_.process({padded_.data() + kLead - kShortWindow / 2, span + kShortWindow},
                 analysis_.short_power);
}

void Analyser::measure_tones() {
  const std::size_t frames = analysis_.num_frames;
  analysis_.tone_db.resize(frames * kToneBins);
  analysis_.tone_height_db.resize(frames * kToneBins);
  analysis_.broadband_db.resize(frames);
  to_db(analysis_.long_power.data(), frames, analysis_.tone_db.data());
  heights(analysis_.tone_db.data(), frames, analysis_.tone_height_db.data());
  for (std::size_t t = 0; t < frames; ++t)
    analysis_.broadband_db[t] = broadband(analysis_.tone_db.data() + t * kToneBins);
}

void Analyser::measure_frames() {
  analysis_.frames.resize(analysis_.num_frames);
  frame_measures(analysis_.short_power.data(), analysis_.tone_db.data(),
                 analysis_.tone_height_db.data(), analysis_.num_frames, analysis_.frames.data());
}

void Analyser::measure_energy() {
  const std::size_t n = analysis_.samples.size();
  analysis_.high_passed.resize(n);
  scratch_.assign(n + 16, 0.0f);  // eight samples of silence on each side
  filter_all(filters_, analysis_.samples, analysis_.high_passed.data(), scratch_.data() + 8);
  analysis_.crackle_band.assign(scratch_.begin() + 8,
                                scratch_.begin() + 8 + static_cast<std::ptrdiff_t>(n));
  const std::size_t count = n / 4;
  analysis_.energy_db.resize(count);
  millisecond_energy(scratch_.data(), count, analysis_.energy_db.data());

  // Background: the median of five 20 ms medians around each 20 ms.
  constexpr std::size_t kBlock = 20;
  const std::size_t blocks = (count + kBlock - 1) / kBlock;
  std::vector<float> medians(blocks);
  for (std::size_t b = 0; b < blocks; ++b) {
    std::array<float, kBlock> part;
    const std::size_t size = std::min(kBlock, count - b * kBlock);
    std::copy_n(analysis_.energy_db.begin() + static_cast<std::ptrdiff_t>(b * kBlock), size,
                part.begin());
    std::nth_element(part.begin(), part.begin() + size / 2, part.begin() + size);
    medians[b] = part[size / 2];
  }
  analysis_.background_db.resize(count);
  for (std::size_t b = 0; b < blocks; ++b) {
    std::array<float, 5> near;
    std::size_t size = 0;
    for (std::size_t j = b >= 2 ? b - 2 : 0; j <= std::min(b + 2, blocks - 1); ++j)
      near[size++] = medians[j];
    std::nth_element(near.begin(), near.begin() + size / 2, near.begin() + size);
    std::fill_n(analysis_.background_db.begin() + static_cast<std::ptrdiff_t>(b * kBlock),
                std::min(kBlock, count - b * kBlock), near[size / 2]);
  }
}

}  // namespace phren::measurement
