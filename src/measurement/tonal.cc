#include "measurement/tonal.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstdint>
#include <cstring>

#include "measurement/lanes.h"

namespace phren::measurement {
namespace {

constexpr float kSeed_db = 8.5f;      // a frame's peak must stand out this much to join a path
constexpr std::size_t kMaxDrift = 1;  // bins per frame

// Paths share one store of steps, each pointing to the one before, because most paths die at once.
struct Step {
  std::uint16_t bin = 0;
  std::int32_t before = -1;
};

struct Path {
  std::size_t first_frame = 0, length = 0;
  std::uint16_t last_bin = 0;
  std::int32_t last_step = -1;
  double height_sum = 0.0;

  std::size_t next_frame() const { return first_frame + length; }
  double mean_height() const { return height_sum / static_cast<double>(length); }
};

struct Paths {
  std::vector<Step> steps;
  std::vector<Path> all;
  std::vector<std::size_t> open, still_open;

  void add(Path& path, std::size_t bin, float height) {
    steps.push_back({static_cast<std::uint16_t>(bin), path.last_step});
    path.last_step = static_cast<std::int32_t>(steps.size()) - 1;
    path.last_bin = static_cast<std::uint16_t>(bin);
    path.height_sum += static_cast<double>(height);
    ++path.length;
  }
  std::vector<std::uint16_t> bins_of(const Path& path) const {
    std::vector<std::uint16_t> bins(path.length);
    std::int32_t at = path.last_step;
    for (std::size_t i = path.length; i-- > 0;) {
      bins[i] = steps[static_cast<std::size_t>(at)].bin;
      at = steps[static_cast<std::size_t>(at)].before;
    }
    return bins;
  }
};

// Vertex of the parabola through a peak and its neighbours.
double peak_hz(const float* db, std::size_t k) {
  const double a = db[k - 1], b = db[k], c = db[k + 1];
  const double bend = a - 2.0 * b + c;
  const double shift = bend < -1e-9 ? std::clamp(0.5 * (a - c) / bend, -0.5, 0.5) : 0.0;
  return (static_cast<double>(k) + shift) * kLongBin_hz;
}

// The skirt of a much stronger tone near by: what an abrupt start or end spreads around it.
PHREN_INLINE bool is_in_skirt(const float* db, std::size_t k) {
  constexpr std::size_t kReach = 24;
  constexpr float kMuch_db = 15.0f;
  const std::size_t from = k > kReach ? k - kReach : 0;
  const std::size_t to = std::min(kToneBins, k + kReach + 1);
  return lane_max(to - from, db[k], [&](std::size_t i) { return db[from + i]; }) > db[k] + kMuch_db;
}

using Peaks = std::array<std::uint16_t, kToneBins>;

// The bins that are peaks, stand out, and are no skirt; returns how many. Whole vectors at a time,
// since few are.
PHREN_SIMD_CLONES std::size_t find_peaks(const float* db, const float* height, Peaks& peaks) {
  constexpr std::size_t kFirst = 8;  // 62 Hz: a margin below the gate
  static_assert(kToneBins % 8 == 0);
  std::array<std::uint8_t, kToneBins> marks{};
  for (std::size_t k = 1; k + 1 < kToneBins; ++k)
    marks[k] = static_cast<std::uint8_t>((height[k] >= kSeed_db) & (db[k] > db[k - 1]) &
                                         (db[k] >= db[k + 1]));
  std::size_t count = 0;
  for (std::size_t k = kFirst; k < kToneBins; k += 8) {
    std::uint64_t eight = 0;
    std::memcpy(&eight, marks.data() + k, 8);
    if (eight == 0) continue;
    for (std::size_t i = k; i < k + 8; ++i)
      if (marks[i] != 0 && !is_in_skirt(db, i)) peaks[count++] = static_cast<std::uint16_t>(i);
  }
  return count;
}

// The open path that a peak in bin k continues, or none.
Path* path_near(Paths& paths, std::size_t k, std::size_t frame, std::size_t& index_out) {
  Path* best = nullptr;
  for (const std::size_t index : paths.open) {
    Path& path = paths.all[index];
    if (path.next_frame() > frame) continue;  // another peak has just taken it
    const std::size_t last = path.last_bin, drift = kMaxDrift * (frame - path.next_frame() + 1);
    if ((k > last ? k - last : last - k) > drift) continue;
    if (best == nullptr || path.height_sum > best->height_sum) best = &path, index_out = index;
  }
  return best;
}

void extend(Paths& paths, const float* db, const float* height, std::size_t frame) {
  const float* height_before = height - (frame > 0 ? kToneBins : 0);
  paths.still_open.clear();
  Peaks peaks;
  const std::size_t count = find_peaks(db, height, peaks);
  for (std::size_t p = 0; p < count; ++p) {
    const std::size_t k = peaks[p];
    std::size_t index = paths.all.size();
    Path* path = path_near(paths, k, frame, index);
    if (path == nullptr) {
      path = &paths.all.emplace_back();
      path->first_frame = frame;
    } else if (path->next_frame() < frame) {  // bridge one missed frame
      paths.add(*path, path->last_bin, height_before[path->last_bin]);
    }
    paths.add(*path, k, height[k]);
    paths.still_open.push_back(index);
  }
  for (const std::size_t index : paths.open)  // a path may miss one frame
    if (paths.all[index].next_frame() == frame) paths.still_open.push_back(index);
  std::swap(paths.open, paths.still_open);
}

// Brings a tone down to 0 Hz: samples times exp(-i phase), four at a time.
class Turner {
 public:
  void set(double hz) {
    const std::complex<double> step = std::polar(1.0, -2.0 * M_PI * hz / kWorkRate_hz);
    turns_ = {1.0, step, step * step, step * step * step};
    by_four_ = turns_[2] * turns_[2];
  }
  std::complex<double> next(const float* x, std::size_t count) {
    double re = 0.0, im = 0.0;
    for (std::size_t i = 0; i < count; ++i) {
      re += static_cast<double>(x[i]) * turns_[i].real();
      im += static_cast<double>(x[i]) * turns_[i].imag();
    }
    const std::complex<double> out = product(turned_, {re, im});
    turned_ = product(turned_, by_four_);
    return out;
  }

 private:
  // Without the standard's care for infinities.
  static std::complex<double> product(std::complex<double> a, std::complex<double> b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
  }
  std::array<std::complex<double>, 4> turns_{};
  std::complex<double> turned_ = 1.0, by_four_ = 1.0;
};

// The edges where the tone, brought down to 0 Hz and smoothed over 12 ms, passes half its level:
// the true edges of a burst, which the 128 ms window smears.
void refine_edges(const Analysis& a, const Path& path, const std::vector<double>& hz,
                  TonalTrack& track) {
  const auto n = static_cast<std::ptrdiff_t>(a.samples.size());
  constexpr std::ptrdiff_t kMargin = 320, kSmooth = 24;
  const auto begin =
      std::max<std::ptrdiff_t>(0, static_cast<std::ptrdiff_t>(path.first_frame * kHop) - kMargin);
  const auto end = std::min<std::ptrdiff_t>(
      n, static_cast<std::ptrdiff_t>((path.next_frame() - 1) * kHop) + kMargin);
  if (end - begin < 3 * kSmooth) return;
  // Sums of the turned signal up to every fourth sample (a millisecond) and to the end.
  constexpr std::size_t kStep = 4;
  const auto count = static_cast<std::size_t>(end - begin);
  const float* x = a.samples.data() + begin;
  std::vector<std::complex<double>> sums(count / kStep + 2);
  Turner turner;
  std::ptrdiff_t frame_before = -1;
  for (std::size_t i = 0; i < count; i += kStep) {
    // Frames change at multiples of 40 samples, so never inside these four.
    const auto frame = std::clamp<std::ptrdiff_t>(
        (begin + static_cast<std::ptrdiff_t>(i + kHop / 2)) / static_cast<std::ptrdiff_t>(kHop) -
            static_cast<std::ptrdiff_t>(path.first_frame),
        0, static_cast<std::ptrdiff_t>(hz.size()) - 1);
    if (frame != frame_before) turner.set(hz[static_cast<std::size_t>(frame)]);
    frame_before = frame;
    sums[i / kStep + 1] = sums[i / kStep] + turner.next(x + i, std::min(kStep, count - i));
  }
  // Squared level once a millisecond.
  const std::size_t last = (count + kStep - 1) / kStep, smooth = kSmooth / kStep;
  std::vector<double> level(count / kStep);
  for (std::size_t i = 0; i < level.size(); ++i)
    level[i] = std::norm(sums[std::min(last, i + smooth)] - sums[i > smooth ? i - smooth : 0]);
  // Reference: the upper quartile inside the path, so that a swelling tone keeps its weak ends.
  const std::size_t from = std::min(
      (path.first_frame * kHop - static_cast<std::size_t>(begin)) / kStep, level.size() - 1);
  const std::size_t to = std::min(level.size(), from + ((path.length - 1) * kHop) / kStep + 1);
  std::vector<double> inside(level.begin() + static_cast<std::ptrdiff_t>(from),
                             level.begin() + static_cast<std::ptrdiff_t>(to));
  const auto quartile = inside.begin() + static_cast<std::ptrdiff_t>(inside.size() * 3 / 4);
  std::nth_element(inside.begin(), quartile, inside.end());
  const double half = 0.25 * *quartile;  // half the amplitude
  std::size_t left = from, right = to - 1;
  while (left > 0 && level[left] >= half) --left;
  while (left < right && level[left] < half) ++left;
  while (right + 1 < level.size() && level[right] >= half) ++right;
  while (right > left && level[right] < half) --right;
  left *= kStep;
  right = right * kStep + kStep - 1;
  track.start_s = static_cast<double>(begin + static_cast<std::ptrdiff_t>(left)) / kWorkRate_hz;
  track.end_s = static_cast<double>(begin + static_cast<std::ptrdiff_t>(right + 1)) / kWorkRate_hz;
}

TonalTrack track_of(const Analysis& a, const Path& path, const std::vector<std::uint16_t>& bins,
                    const TonalGates& gates) {
  std::vector<double> hz;
  for (std::size_t i = 0; i < bins.size(); ++i)
    hz.push_back(peak_hz(a.tone_db.data() + (path.first_frame + i) * kToneBins, bins[i]));
  TonalTrack track;
  track.start_s = static_cast<double>(path.first_frame) * kFrame_s;
  track.end_s = static_cast<double>(path.next_frame()) * kFrame_s;
  track.start_hz = hz.front();
  track.end_hz = hz.back();
  std::vector<double> sorted = hz;
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2),
                   sorted.end());
  track.mean_hz = sorted[sorted.size() / 2];  // the middle of a path is its steadiest value
  track.prominence_db = path.mean_height();
  if (track.mean_hz > gates.min_hz && track.mean_hz <= gates.max_hz)
    refine_edges(a, path, hz, track);
  return track;
}

// A longer tone needs to stand out less: what is chance in 100 ms is none in 300.
double needed_db(const Path& path, const TonalGates& gates) {
  const double length_s = static_cast<double>(path.length) * kFrame_s;
  return gates.threshold_db - 3.0 * std::clamp((length_s - 0.14) / 0.2, 0.0, 1.0);
}

bool is_harmonic(const TonalTrack& weak, const TonalTrack& strong) {
  const double overlap =
      std::min(weak.end_s, strong.end_s) - std::max(weak.start_s, strong.start_s);
  if (overlap < 0.5 * (weak.end_s - weak.start_s)) return false;
  const double ratio = weak.mean_hz / strong.mean_hz;
  return ratio > 1.5 && std::fabs(ratio - std::round(ratio)) < 0.04;
}

}  // namespace

std::vector<TonalTrack> find_tracks(const Analysis& analysis, const TonalGates& gates) {
  Paths paths;
  for (std::size_t t = 0; t < analysis.num_frames; ++t)
    extend(paths, analysis.tone_db.data() + t * kToneBins,
           analysis.tone_height_db.data() + t * kToneBins, t);
  std::vector<TonalTrack> tracks;
  for (const Path& path : paths.all) {
    if (path.length < 3 || path.mean_height() < needed_db(path, gates)) continue;
    const TonalTrack track = track_of(analysis, path, paths.bins_of(path), gates);
    if (!(track.mean_hz > gates.min_hz && track.mean_hz <= gates.max_hz)) continue;
    if (!(track.end_s - track.start_s > gates.min_duration_s)) continue;
    tracks.push_back(track);
  }
  std::vector<TonalTrack> kept;
  for (const TonalTrack& track : tracks) {
    const bool is_overtone =
        std::any_of(tracks.begin(), tracks.end(), [&](const TonalTrack& other) {
          return other.prominence_db * (other.end_s - other.start_s) > 0.0 &&
                 is_harmonic(track, other);
        });
    if (!is_overtone) kept.push_back(track);
  }
  std::sort(kept.begin(), kept.end(),
            [](const TonalTrack& x, const TonalTrack& y) { return x.start_s < y.start_s; });
  return kept;
}

}  // namespace phren::measurement
