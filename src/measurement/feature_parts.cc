#include "measurement/feature_parts.h"

#include <algorithm>
#include <cmath>
#include <memory>

#include "measurement/fast_math.h"

namespace phren::measurement {
namespace {

constexpr std::size_t short_bin(double hz) {
  return static_cast<std::size_t>(hz / kShortBin_hz + 0.5);
}
constexpr std::size_t long_bin(double hz) {
  return static_cast<std::size_t>(hz / kLongBin_hz + 0.5);
}
const float* short_row(const Stretch& s, std::size_t t) {
  return s.analysis->short_power.data() + (s.first_frame + t) * kShortBins;
}
const float* height_row(const Stretch& s, std::size_t t) {
  return s.analysis->tone_height_db.data() + (s.first_frame + t) * kToneBins;
}
std::span<const float> part(std::span<const float> all, double start, double end) {
  const auto size = static_cast<double>(all.size());
  const auto from = static_cast<std::size_t>(std::clamp(start, 0.0, size));
  const auto to = static_cast<std::size_t>(std::clamp(end, static_cast<double>(from), size));
  return {all.data() + from, to - from};
}

}  // namespace

double mean_of(std::span<const double> values) {
  double sum = 0.0;
  for (const double v : values) sum += v;
  return values.empty() ? 0.0 : sum / static_cast<double>(values.size());
}

double middle_of(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

Stretch stretch_of(const Analysis& a, double start_s, double end_s) {
  Stretch s;
  s.analysis = &a;
  const auto first = static_cast<std::size_t>(std::max(0.0, std::ceil(start_s / kFrame_s)));
  const auto last = static_cast<std::size_t>(std::max(0.0, std::ceil(end_s / kFrame_s)));
  s.first_frame = std::min(first, a.num_frames);
  s.num_frames = std::min(last, a.num_frames) - s.first_frame;
  s.high_passed = part(a.high_passed, start_s * kWorkRate_hz, end_s * kWorkRate_hz);
  s.crackle_band = part(a.crackle_band, start_s * kWorkRate_hz, end_s * kWorkRate_hz);
  s.energy_db = part(a.energy_db, start_s * 1000.0, end_s * 1000.0);
  s.background_db = part(a.background_db, start_s * 1000.0, end_s * 1000.0);
  double level = 0.0;
  s.frames = {a.frames.data() + s.first_frame, s.num_frames};
  for (std::size_t t = 0; t < s.num_frames; ++t) {
    const float* row = short_row(s, t);
    for (std::size_t k = 0; k < kShortBins; ++k) s.mean_power[k] += row[k];
    level += static_cast<double>(a.broadband_db[s.first_frame + t]);
  }
  if (s.num_frames > 0) {
    for (float& p : s.mean_power) p /= static_cast<float>(s.num_frames);
    s.level_db = level / static_cast<double>(s.num_frames);
  }
  return s;
}

Bands measure_bands(const Stretch& s) {
  Bands out;
  double below = 0.0, all = 1e-20, within = 1e-20;
  for (std::size_t k = 1; k < short_bin(1300.0); ++k) {
    const double p = static_cast<double>(s.mean_power[k]);
    all += p;
    if (k < short_bin(60.0)) below += p;
    if (k >= short_bin(50.0)) within += p;
  }
  out.share_below_60hz = below / all;
  std::vector<double> levels(s.num_frames);
  for (std::size_t b = 0; b < kNumFeatureBands; ++b) {
    double total = 1e-20, sum = 0.0, squares = 0.0, highest = -200.0;
    for (std::size_t t = 0; t < s.num_frames; ++t) {
      const auto level = static_cast<double>(s.frames[t].band_db[b]);
      levels[t] = level;
      total += static_cast<double>(s.frames[t].band_power[b]);
      sum += level;
      squares += level * level;
      highest = std::max(highest, level);
    }
    const double n = static_cast<double>(s.num_frames);
    out.level_db[b] = static_cast<float>(10.0 * std::log10(total / n / within));
    out.spread_db[b] =
        static_cast<float>(std::sqrt(std::max(0.0, squares / n - (sum / n) * (sum / n))));
    out.peak_db[b] = static_cast<float>(highest - middle_of(levels));
  }
  return out;
}

namespace {

double centroid_of(const float* power) {
  double sum = 1e-20, weighted = 0.0;
  for (std::size_t k = short_bin(50.0); k < short_bin(1300.0); ++k) {
    sum += static_cast<double>(power[k]);
    weighted += static_cast<double>(power[k]) * static_cast<double>(k) * kShortBin_hz;
  }
  return weighted / sum;
}

// Geometric over arithmetic mean of the bins, dB: 0 for a flat spectrum.
double flatness_db(const float* power, double low_hz, double high_hz) {
  double logs = 0.0, sum = 0.0;
  const std::size_t low = short_bin(low_hz), high = short_bin(high_hz);
  for (std::size_t k = low; k < high; ++k) {
    logs += static_cast<double>(power_db(power[k]));
    sum += static_cast<double>(power[k]);
  }
  const double n = static_cast<double>(high - low);
  return logs / n - 10.0 * std::log10(sum / n + 1e-14);
}

// Least-squares slope of level against octaves, 100-1300 Hz.
double slope_db_per_octave(const float* power) {
  double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (std::size_t k = short_bin(100.0); k < short_bin(1300.0); ++k) {
    const double x = std::log2(static_cast<double>(k));
    const double y = static_cast<double>(power_db(power[k]));
    const double w = 1.0 / static_cast<double>(k);  // every octave counts alike
    n += w;
    sx += w * x;
    sy += w * y;
    sxx += w * x * x;
    sxy += w * x * y;
  }
  return (n * sxy - sx * sy) / (n * sxx - sx * sx);
}

}  // namespace

std::array<float, 13> measure_shape(const Stretch& s) {
  std::array<float, 13> out{};
  const float* p = s.mean_power.data();
  const std::size_t low = short_bin(50.0), high = short_bin(1300.0);
  const double centroid = centroid_of(p);
  double total = 1e-20, spread = 0.0, entropy = 0.0;
  for (std::size_t k = low; k < high; ++k) total += static_cast<double>(p[k]);
  for (std::size_t k = low; k < high; ++k) {
    const double share = static_cast<double>(p[k]) / total;
    const double away = static_cast<double>(k) * kShortBin_hz - centroid;
    spread += share * away * away;
    if (share > 0.0) entropy -= share * std::log(share);
  }
  out[0] = static_cast<float>(centroid);
  out[1] = static_cast<float>(std::sqrt(spread));
  constexpr std::array<double, 5> kShares{0.25, 0.5, 0.75, 0.85, 0.95};
  double sum = 0.0;
  std::size_t next = 0;
  for (std::size_t k = low; k < high && next < kShares.size(); ++k) {
    const double before = sum;
    sum += static_cast<double>(p[k]) / total;
    for (; next < kShares.size() && sum >= kShares[next]; ++next)
      out[2 + next] = static_cast<float>(
          (static_cast<double>(k) + (kShares[next] - before) / std::max(1e-12, sum - before)) *
          kShortBin_hz);
  }
  out[7] = static_cast<float>(entropy / std::log(static_cast<double>(high - low)));
  out[8] = static_cast<float>(slope_db_per_octave(p));
  for (std::size_t r = 0; r < 3; ++r)
    out[9 + r] =
        static_cast<float>(flatness_db(p, kToneRanges_hz[r].first, kToneRanges_hz[r].second));
  // The loudest tenth of the frames.
  std::vector<float> sorted;
  for (const FrameMeasures& m : s.frames) sorted.push_back(m.power);
  const auto cut = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() * 9 / 10);
  std::nth_element(sorted.begin(), cut, sorted.end());
  std::array<float, kShortBins> loud{};
  for (std::size_t t = 0; t < s.num_frames; ++t)
    if (s.frames[t].power >= *cut)
      for (std::size_t k = low; k < high; ++k) loud[k] += short_row(s, t)[k];
  out[12] = static_cast<float>(centroid_of(loud.data()));
  return out;
}

std::array<float, 4> measure_tones(const Stretch& s, std::size_t range) {
  std::vector<double> peaks(s.num_frames);
  double over_8 = 0.0, over_12 = 0.0;
  for (std::size_t t = 0; t < s.num_frames; ++t) {
    const float top = s.frames[t].tone_db[range];
    peaks[t] = static_cast<double>(top);
    over_8 += top > 8.0f ? 1.0 : 0.0;
    over_12 += top > 12.0f ? 1.0 : 0.0;
  }
  const double n = static_cast<double>(s.num_frames), mean = mean_of(peaks);
  const auto at = peaks.begin() + static_cast<std::ptrdiff_t>(peaks.size() * 9 / 10);
  std::nth_element(peaks.begin(), at, peaks.end());
  return {static_cast<float>(mean), static_cast<float>(*at), static_cast<float>(over_8 / n),
          static_cast<float>(over_12 / n)};
}

namespace {

// One frame of the best path: to each bin from itself or a neighbour, whichever is strongest.
// `best` and `next` have one bin more on each side.
PHREN_SIMD_CLONES void advance(const float* best, const float* row, std::size_t width, float* next,
                               signed char* steps) {
  for (std::size_t k = 0; k < width; ++k) {
    const float left = best[k], stay = best[k + 1], right = best[k + 2];
    const float without_right = left > stay ? left : stay;
    float height = row[k] < -10.0f ? -10.0f : row[k];
    height = height > 30.0f ? 30.0f : height;
    next[k + 1] = (right > without_right ? right : without_right) + height;
  }
  for (std::size_t k = 0; k < width; ++k) {
    const float left = best[k], stay = best[k + 1], right = best[k + 2];
    const int from_left = left > stay ? 1 : 0;
    const int from_right = right > (left > stay ? left : stay) ? 1 : 0;
    steps[k] = static_cast<signed char>(from_right - (from_left & (1 - from_right)));
  }
}

}  // namespace

std::array<float, 5> measure_ridge(const Stretch& s, double low_hz, double high_hz) {
  const std::size_t low = long_bin(low_hz), high = std::min(long_bin(high_hz), kToneBins);
  const std::size_t width = high - low, frames = s.num_frames;
  // best[k]: strength of the best path that ends in bin k; it may move one bin a frame.
  std::vector<float> best(width + 2, -1e9f), next(width + 2, -1e9f);
  const auto step = std::make_unique_for_overwrite<signed char[]>(frames * width);  // from frame 1
  for (std::size_t k = 0; k < width; ++k) best[k + 1] = height_row(s, 0)[low + k];
  for (std::size_t t = 1; t < frames; ++t) {
    advance(best.data(), height_row(s, t) + low, width, next.data(), step.get() + t * width);
    std::swap(best, next);
  }
  auto k = static_cast<std::size_t>(std::max_element(best.begin() + 1, best.end() - 1) -
                                    (best.begin() + 1));
  std::vector<double> hz(frames), height(frames);
  for (std::size_t t = frames; t-- > 0;) {
    hz[t] = static_cast<double>(low + k) * kLongBin_hz;
    height[t] = static_cast<double>(height_row(s, t)[low + k]);
    if (t == 0) break;
    const auto moved = static_cast<std::ptrdiff_t>(k) + step[t * width + k];
    k = static_cast<std::size_t>(
        std::clamp<std::ptrdiff_t>(moved, 0, static_cast<std::ptrdiff_t>(width) - 1));
  }
  std::size_t run = 0, longest = 0, over = 0;
  double window = 0.0, best_window = -100.0;
  for (std::size_t t = 0; t < frames; ++t) {
    run = height[t] > 8.0 ? run + 1 : 0;
    over += height[t] > 8.0 ? 1 : 0;
    longest = std::max(longest, run);
    window += height[t] - (t >= 5 ? height[t - 5] : 0.0);
    if (t >= 4 || t + 1 == frames)
      best_window =
          std::max(best_window, window / static_cast<double>(std::min<std::size_t>(5, t + 1)));
  }
  return {static_cast<float>(mean_of(height)), static_cast<float>(best_window),
          static_cast<float>(static_cast<double>(longest) * kFrame_s),
          static_cast<float>(static_cast<double>(over) / static_cast<double>(frames)),
          static_cast<float>(middle_of(hz))};
}

}  // namespace phren::measurement
