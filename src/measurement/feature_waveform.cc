#include <algorithm>
#include <cmath>
#include <cstring>
#include <memory>

#include "measurement/fast_math.h"
#include "measurement/feature_parts.h"
#include "measurement/lanes.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kOrder = 8;  // of the linear prediction

PHREN_SIMD_CLONES void autocorrelate(const float* x, std::size_t size, double* r) {
  for (std::size_t lag = 0; lag <= kOrder && lag < size; ++lag)
    r[lag] =
        static_cast<double>(lane_sum(size - lag, [&](std::size_t i) { return x[i] * x[i + lag]; }));
}

// What the predictor leaves: e[i] = sum over j of a[j] x[i + kOrder - j].
PHREN_SIMD_CLONES void predict(const float* x, std::size_t size, const float* a, float* e) {
  for (std::size_t i = 0; i < size - kOrder; ++i) {
    float sum = x[i + kOrder];
    for (std::size_t j = 1; j <= kOrder; ++j) sum += a[j] * x[i + kOrder - j];
    e[i] = sum;
  }
}

PHREN_SIMD_CLONES void teager_energy(const float* x, std::size_t size, float* e) {
  for (std::size_t i = 0; i < size - 2; ++i) e[i] = x[i + 1] * x[i + 1] - x[i] * x[i + 2];
}

// Passes sixteen values at a time, and the rest one by one.
template <class Many, class One>
PHREN_INLINE void for_each_sixteen(const float* x, std::size_t size, Many many, One one) {
  std::size_t i = 0;
  for (; i + 16 <= size; i += 16) {
    Sixteen v;
    std::memcpy(&v, x + i, sizeof v);
    many(v);
  }
  for (; i < size; ++i) one(x[i]);
}

PHREN_INLINE double sum_of(const Sixteen& v) {
  double sum = 0.0;
  for (std::size_t l = 0; l < 16; ++l) sum += static_cast<double>(v[l]);
  return sum;
}

// Sums of (x - mean)^2 and (x - mean)^4, in units of the greatest |x - mean|, so that fourth powers
// of faint sound do not vanish.
PHREN_SIMD_CLONES void central_moments(const float* x, std::size_t size, double* m2, double* m4) {
  constexpr std::size_t kBlock = 1024;  // short partial sums keep float sums exact enough
  double total = 0.0;
  Sixteen least = Sixteen{} + x[0], most = least;
  for (std::size_t from = 0; from < size; from += kBlock) {
    Sixteen sums{};
    for_each_sixteen(
        x + from, std::min(kBlock, size - from),
        [&](const Sixteen& v) {
          sums += v;
          least = v < least ? v : least;
          most = v > most ? v : most;
        },
        [&](float v) {
          sums[0] += v;
          least[0] = std::min(least[0], v);
          most[0] = std::max(most[0], v);
        });
    total += sum_of(sums);
  }
  const auto mean = static_cast<float>(total / static_cast<double>(size));
  float peak = 1e-30f;
  for (std::size_t l = 0; l < 16; ++l) peak = std::max({peak, most[l] - mean, mean - least[l]});
  const float scale = 1.0f / peak;
  double second = 0.0, fourth = 0.0;
  for (std::size_t from = 0; from < size; from += kBlock) {
    Sixteen twos{}, fours{};
    for_each_sixteen(
        x + from, std::min(kBlock, size - from),
        [&](const Sixteen& v) {
          const Sixteen d = (v - mean) * scale, square = d * d;
          twos += square;
          fours += square * square;
        },
        [&](float v) {
          const float d = (v - mean) * scale, square = d * d;
          twos[0] += square;
          fours[0] += square * square;
        });
    second += sum_of(twos);
    fourth += sum_of(fours);
  }
  *m2 = second;
  *m4 = fourth;
}

// Levinson-Durbin; a[0] = 1.
std::array<float, kOrder + 1> predictor(std::array<double, kOrder + 1> r) {
  std::array<double, kOrder + 1> a{1.0};
  double error = r[0] * 1.0001 + 1e-20;
  for (std::size_t m = 1; m <= kOrder; ++m) {
    double sum = r[m];
    for (std::size_t j = 1; j < m; ++j) sum += a[j] * r[m - j];
    const double reflection = -sum / error;
    auto b = a;
    for (std::size_t j = 1; j < m; ++j) b[j] = a[j] + reflection * a[m - j];
    b[m] = reflection;
    a = b;
    error = std::max(1e-20, error * (1.0 - reflection * reflection));
  }
  std::array<float, kOrder + 1> out{};
  for (std::size_t j = 0; j <= kOrder; ++j) out[j] = static_cast<float>(a[j]);
  return out;
}

double kurtosis_of_residual(std::span<const float> x) {
  if (x.size() <= kOrder) return 0.0;
  std::array<double, kOrder + 1> r{};
  autocorrelate(x.data(), x.size(), r.data());
  const auto a = predictor(r);
  const auto e = std::make_unique_for_overwrite<float[]>(x.size() - kOrder);
  predict(x.data(), x.size(), a.data(), e.get());
  return kurtosis_of({e.get(), x.size() - kOrder});
}

double kurtosis_of_teager(std::span<const float> x) {
  if (x.size() < 3) return 0.0;
  const auto e = std::make_unique_for_overwrite<float[]>(x.size() - 2);
  teager_energy(x.data(), x.size(), e.get());
  return kurtosis_of({e.get(), x.size() - 2});
}

}  // namespace

double kurtosis_of(std::span<const float> values) {
  if (values.size() < 4) return 0.0;
  double m2 = 0.0, m4 = 0.0;
  central_moments(values.data(), values.size(), &m2, &m4);
  return m2 > 0.0 ? m4 * static_cast<double>(values.size()) / (m2 * m2) : 0.0;
}

// Highest autocorrelation of the high-passed waveform at lags of 80-800 Hz, from the spectrum (the
// Wiener-Khinchin theorem), which costs one cosine sum per lag.
std::array<float, 2> measure_regularity(const Stretch& s) {
  constexpr std::size_t kFirst = 5, kLast = 50;  // lags in samples: 800 to 80 Hz
  static const auto cosines = [] {
    std::vector<float> table((kLast + 2) * kShortBins);
    for (std::size_t lag = 0; lag <= kLast + 1; ++lag)
      for (std::size_t k = 0; k < kShortBins; ++k)
        table[lag * kShortBins + k] =
            static_cast<float>(std::cos(2.0 * M_PI * static_cast<double>(k * lag) / 256.0));
    return table;
  }();
  std::array<float, kLast + 2> r{};
  for (std::size_t lag = 0; lag <= kLast + 1; ++lag) {
    float sum = 0.0f;
    for (std::size_t k = 5; k < 84; ++k) sum += s.mean_power[k] * cosines[lag * kShortBins + k];
    r[lag] = sum;
  }
  float peak = 0.0f;
  std::size_t at = kFirst;
  for (std::size_t lag = kFirst; lag <= kLast; ++lag)
    if (r[lag] > r[lag - 1] && r[lag] >= r[lag + 1] && r[lag] > peak) peak = r[lag], at = lag;
  return {r[0] > 0.0f ? peak / r[0] : 0.0f,
          static_cast<float>(kWorkRate_hz / static_cast<double>(at))};
}

std::array<float, 7> measure_peakedness(const Stretch& s) {
  std::size_t over_6 = 0, over_9 = 0, over_12 = 0;
  for (std::size_t i = 0; i < s.energy_db.size(); ++i) {
    const float height = s.energy_db[i] - s.background_db[i];
    over_6 += height > 6.0f ? 1 : 0;
    over_9 += height > 9.0f ? 1 : 0;
    over_12 += height > 12.0f ? 1 : 0;
  }
  const auto share = [&](std::size_t count) {
    return static_cast<float>(count) /
           static_cast<float>(std::max<std::size_t>(1, s.energy_db.size()));
  };
  // Peakedness as log2 of kurtosis / 3, so that one loud click does not dwarf all else.
  const auto peakedness = [](double kurtosis) {
    return static_cast<float>(std::log2(std::max(0.1, kurtosis / 3.0)));
  };
  return {peakedness(kurtosis_of(s.high_passed)),
          peakedness(kurtosis_of(s.crackle_band)),
          peakedness(kurtosis_of_residual(s.crackle_band)),
          peakedness(kurtosis_of_teager(s.crackle_band)),
          share(over_6),
          share(over_9),
          share(over_12)};
}

std::array<float, 7> measure_envelope(const Stretch& s) {
  const std::size_t n = s.num_frames;
  double total = 1e-20, centre = 0.0;
  std::size_t peak = 0;
  std::vector<double> levels(n);
  std::vector<float> amplitude(n);
  for (std::size_t t = 0; t < n; ++t) {
    total += static_cast<double>(s.frames[t].power);
    centre += static_cast<double>(s.frames[t].power) * (static_cast<double>(t) + 0.5);
    if (s.frames[t].power > s.frames[peak].power) peak = t;
    levels[t] = static_cast<double>(power_db(s.frames[t].power));
    amplitude[t] = std::sqrt(s.frames[t].power);
  }
  std::sort(levels.begin(), levels.end());
  const auto at = [&](double q) {
    return levels[static_cast<std::size_t>(q * static_cast<double>(n - 1))];
  };
  std::vector<double> flux;
  for (std::size_t t = 1; t < n; ++t) flux.push_back(static_cast<double>(s.frames[t].flux_db));
  double highest = 0.0, squares = 0.0;
  for (const double f : flux) highest = std::max(highest, f), squares += f * f;
  const double mean = mean_of(flux);
  const double variance =
      flux.empty() ? 0.0 : squares / static_cast<double>(flux.size()) - mean * mean;
  return {static_cast<float>(kurtosis_of(amplitude)),
          static_cast<float>(centre / total / static_cast<double>(n)),
          static_cast<float>((static_cast<double>(peak) + 0.5) / static_cast<double>(n)),
          static_cast<float>(at(0.95) - at(0.05)),
          static_cast<float>(mean),
          static_cast<float>(highest),
          static_cast<float>(std::sqrt(std::max(0.0, variance)))};
}

}  // namespace phren::measurement
