#include "measurement/analysis.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>

#include "measurement/fast_math.h"
#include "measurement/lanes.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kLead = kLongWindow / 2;  // silence before the first sample
constexpr std::size_t kMargin = 8;              // the same for energy
constexpr std::size_t kGap = 2, kReach = 10;    // neighbourhood: bins 3 to 10 away on each side

signal::Biquad high_pass(double corner_hz, double q) {
  return signal::Biquad(*signal::make_section({.kind = signal::SectionKind::kHighPass,
                                               .sample_rate_hz = kWorkRate_hz,
                                               .centre_hz = corner_hz,
                                               .q = q}));
}

typedef double Four __attribute__((vector_size(32)));

// A section that filters four stretches side by side.
struct Section {
  explicit Section(const signal::BiquadCoefficients& c)
      : b0(c.b0), b1(c.b1), b2(c.b2), a1(c.a1), a2(c.a2) {}
  PHREN_INLINE void step(Four& x) {
    const Four y = b0 * x + s1;
    s1 = (b1 * x + s2) - a1 * y;  // waits for one product and one sum only
    s2 = b2 * x - a2 * y;
    x = y;
  }
  double b0, b1, b2, a1, a2;
  Four s1{}, s2{};
};

// All three sections in one pass over four quarters at once. Each quarter starts 512 samples early,
// after which nothing of what came before is left (the sections forget e-fold in 2.4 ms).
PHREN_SIMD_CLONES void filter_all(const std::array<signal::Biquad, 3>& filters,
                                  std::span<const float> in, float* high_passed,
                                  float* crackle_band) {
  constexpr std::ptrdiff_t kEarly = 512;
  Section high(filters[0].coefficients()), first(filters[1].coefficients()),
      second(filters[2].coefficients());
  const auto size = static_cast<std::ptrdiff_t>(in.size()), quarter = (size + 3) / 4;
  for (std::ptrdiff_t i = -kEarly; i < quarter; ++i) {
    Four x{}, y{};
    for (std::ptrdiff_t q = 0; q < 4; ++q) {
      const std::ptrdiff_t at = q * quarter + i;
      if (at >= 0 && at < size) x[q] = static_cast<double>(in[static_cast<std::size_t>(at)]);
    }
    y = x;
    high.step(x);
    first.step(y);
    second.step(y);
    if (i < 0) continue;
    for (std::ptrdiff_t q = 0; q < 4; ++q)
      if (const std::ptrdiff_t at = q * quarter + i; at < size) {
        high_passed[at] = static_cast<float>(x[q]);
        crackle_band[at] = static_cast<float>(y[q]);
      }
  }
}

PHREN_SIMD_CLONES void to_db(const float* power, std::size_t count, float* db) {
  for (std::size_t i = 0; i < count; ++i) db[i] = power_db(power[i]);
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
                                      const float* height_db, std::size_t frames, bool is_first,
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
    const float* before = now - (is_first && t == 0 ? 0 : kToneBins);  // the frame before
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
PHREN_SIMD_CLONES void broadband(const float* db, std::size_t frames, float* out) {
  constexpr std::size_t kLow = 19, kHigh = 128, kStep = 5, kCount = (kHigh - kLow) / kStep + 1;
  Sixteen levels[kCount] = {};
  for (std::size_t t = 0; t < frames; t += kColumns) {
    const std::size_t used = std::min(kColumns, frames - t);
    for (std::size_t n = 0; n < kCount; ++n)
      for (std::size_t c = 0; c < used; ++c)
        levels[n][c] = db[(t + c) * kToneBins + kLow + n * kStep];
    sort_columns(levels);
    std::memcpy(out + t, &levels[kCount / 2], used * sizeof(float));
  }
}

constexpr std::size_t kBlock = 20;  // ms of energy behind one median

// Medians of whole blocks.
PHREN_SIMD_CLONES void block_medians(const float* energy, std::size_t blocks, float* out) {
  Sixteen rows[kBlock] = {};
  for (std::size_t b = 0; b < blocks; b += kColumns) {
    const std::size_t used = std::min(kColumns, blocks - b);
    for (std::size_t n = 0; n < kBlock; ++n)
      for (std::size_t c = 0; c < used; ++c) rows[n][c] = energy[(b + c) * kBlock + n];
    sort_columns(rows);
    std::memcpy(out + b, &rows[kBlock / 2], used * sizeof(float));
  }
}

float median_of(std::span<float> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

Analyser::Analyser()
    : long_(*signal::Stft::make({512, kLongWindow, kHop, kLongBins})),
      short_(*signal::Stft::make({256, kShortWindow, kHop, kShortBins})),
      filters_{high_pass(kCrackleHighPass_hz, std::sqrt(0.5)),
               // Butterworth of order four: q = 1 / (2 sin(pi / 8)) and 1 / (2 sin(3 pi / 8)).
               high_pass(kCrackleBandLow_hz, 0.5 / std::sin(M_PI / 8.0)),
               high_pass(kCrackleBandLow_hz, 0.5 / std::sin(3.0 * M_PI / 8.0))} {}

const Analysis& Analyser::analyse(std::span<const float> samples) {
  analysis_.samples = samples;
  const std::size_t frames = analysis_.num_frames = (samples.size() + kHop - 1) / kHop;
  analysis_.long_power.resize(frames * kLongBins);
  analysis_.short_power.resize(frames * kShortBins);
  analysis_.tone_db.resize(frames * kToneBins);
  analysis_.tone_height_db.resize(frames * kToneBins);
  analysis_.broadband_db.resize(frames);
  analysis_.frames.resize(frames);
  padded_.resize(kLead + frames * kHop + kLongWindow);
  std::fill_n(padded_.begin(), kLead, 0.0f);
  const auto end = std::copy(samples.begin(), samples.end(), padded_.begin() + kLead);
  std::fill(end, padded_.end(), 0.0f);
  constexpr std::size_t kAtATime = 64;  // so that what one step leaves is near for the next
  for (std::size_t t = 0; t < frames; t += kAtATime)
    measure_frames(t, std::min(kAtATime, frames - t));
  measure_energy();
  return analysis_;
}

void Analyser::measure_frames(std::size_t first, std::size_t count) {
  Analysis& a = analysis_;
  const float* from = padded_.data() + first * kHop;
  const std::size_t span = (count - 1) * kHop;
  float* long_power = a.long_power.data() + first * kLongBins;
  float* short_power = a.short_power.data() + first * kShortBins;
  float* tone_db = a.tone_db.data() + first * kToneBins;
  float* height_db = a.tone_height_db.data() + first * kToneBins;
  long_.process({from, span + kLongWindow}, {long_power, count * kLongBins});
  short_.process({from + kLead - kShortWindow / 2, span + kShortWindow},
                 {short_power, count * kShortBins});
  to_db(long_power, count * kLongBins, tone_db);
  heights(tone_db, count, height_db);
  broadband(tone_db, count, a.broadband_db.data() + first);
  frame_measures(short_power, tone_db, height_db, count, first == 0, a.frames.data() + first);
}

void Analyser::measure_energy() {
  const std::size_t n = analysis_.samples.size();
  analysis_.high_passed.resize(n);
  crackle_padded_.resize(n + 2 * kMargin);
  std::fill_n(crackle_padded_.begin(), kMargin, 0.0f);
  std::fill(crackle_padded_.end() - kMargin, crackle_padded_.end(), 0.0f);
  filter_all(filters_, analysis_.samples, analysis_.high_passed.data(),
             crackle_padded_.data() + kMargin);
  analysis_.crackle_band = {crackle_padded_.data() + kMargin, n};
  const std::size_t count = n / 4;
  analysis_.energy_db.resize(count);
  millisecond_energy(crackle_padded_.data(), count, analysis_.energy_db.data());

  // Background: the median of five 20 ms medians around each 20 ms.
  const std::size_t whole = count / kBlock, blocks = (count + kBlock - 1) / kBlock;
  medians_.resize(blocks);
  block_medians(analysis_.energy_db.data(), whole, medians_.data());
  if (whole < blocks) {
    std::vector<float> rest(
        analysis_.energy_db.begin() + static_cast<std::ptrdiff_t>(whole * kBlock),
        analysis_.energy_db.end());
    medians_[whole] = median_of(rest);
  }
  analysis_.background_db.resize(count);
  for (std::size_t b = 0; b < blocks; ++b) {
    std::array<float, 5> near;
    const std::size_t from = b >= 2 ? b - 2 : 0, to = std::min(b + 3, blocks);
    std::copy(medians_.begin() + static_cast<std::ptrdiff_t>(from),
              medians_.begin() + static_cast<std::ptrdiff_t>(to), near.begin());
    std::fill_n(analysis_.background_db.begin() + static_cast<std::ptrdiff_t>(b * kBlock),
                std::min(kBlock, count - b * kBlock), median_of({near.data(), to - from}));
  }
}

}  // namespace phren::measurement
