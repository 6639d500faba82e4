#include "measurement/transients.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "signal/simd.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kUp = 4;                     // interpolation factor: 16 kHz
constexpr std::size_t kReachTaps = 12;             // sinc half-width in samples
constexpr std::size_t kBefore = 48, kAfter = 112;  // samples looked at around the peak

constexpr std::size_t kPieceLength = kBefore + kAfter;

using Kernel = std::array<std::array<float, 2 * kReachTaps>, kUp>;

const Kernel& kernel() {  // Hann-windowed sinc, one row per phase
  static const Kernel rows = [] {
    Kernel out{};
    for (std::size_t phase = 0; phase < kUp; ++phase)
      for (std::size_t j = 0; j < 2 * kReachTaps; ++j) {
        const double t =
            static_cast<double>(j) - kReachTaps + 1.0 - static_cast<double>(phase) / kUp;
        const double sinc = std::fabs(t) < 1e-12 ? 1.0 : std::sin(M_PI * t) / (M_PI * t);
        out[phase][j] =
            static_cast<float>(sinc * (0.5 + 0.5 * std::cos(M_PI * t / (kReachTaps + 1.0))));
      }
    return out;
  }();
  return rows;
}

// `padded` is the piece with kReachTaps samples more on each side.
PHREN_SIMD_CLONES void interpolate(const float* padded, const Kernel& rows, float* out) {
  std::array<float, kPieceLength> phase_row;
  for (std::size_t phase = 0; phase < kUp; ++phase) {
    phase_row.fill(0.0f);
    for (std::size_t j = 0; j < 2 * kReachTaps; ++j)
      for (std::size_t i = 0; i < kPieceLength; ++i)
        phase_row[i] += rows[phase][j] * padded[i + j + 1];
    for (std::size_t i = 0; i < kPieceLength; ++i) out[i * kUp + phase] = phase_row[i];
  }
}

// Band-limited interpolation of x[begin, end), at most kPieceLength samples.
std::vector<float> interpolated(std::span<const float> x, std::size_t begin, std::size_t end) {
  std::array<float, kPieceLength + 2 * kReachTaps> padded{};
  for (std::size_t i = 0; i < padded.size(); ++i) {
    const std::size_t at = begin + i;
    if (at >= kReachTaps && at - kReachTaps < x.size()) padded[i] = x[at - kReachTaps];
  }
  std::vector<float> out(kPieceLength * kUp);
  interpolate(padded.data(), kernel(), out.data());
  out.resize((end - begin) * kUp);
  return out;
}

struct Deflection {  // between two baseline crossings, positions in interpolated samples
  double begin = 0.0, end = 0.0, peak = 0.0;
};

std::vector<Deflection> deflections(const std::vector<float>& y) {
  std::vector<Deflection> out;
  double begin = 0.0, peak = 0.0;
  for (std::size_t i = 0; i + 1 < y.size(); ++i) {
    if (std::fabs(static_cast<double>(y[i])) > std::fabs(peak)) peak = static_cast<double>(y[i]);
    if ((y[i] > 0.0f) == (y[i + 1] > 0.0f)) continue;
    const double crossing = static_cast<double>(i) + static_cast<double>(y[i] / (y[i] - y[i + 1]));
    out.push_back({begin, crossing, peak});
    begin = crossing;
    peak = 0.0;
  }
  return out;
}

}  // namespace

std::optional<Crackle> measure_waveform(std::span<const float> high_passed, std::size_t at_sample) {
  const std::size_t begin = at_sample > kBefore ? at_sample - kBefore : 0;
  const std::size_t end = std::min(high_passed.size(), at_sample + kAfter);
  if (end <= begin + 8) return std::nullopt;
  const std::vector<float> y = interpolated(high_passed, begin, end);
  const std::vector<Deflection> all = deflections(y);
  if (all.size() < 6) return std::nullopt;
  // The largest deflection within 8 ms of the energy peak.
  const double centre = static_cast<double>((at_sample - begin) * kUp);
  std::size_t largest = all.size();
  for (std::size_t d = 1; d < all.size(); ++d) {
    if (std::fabs(0.5 * (all[d].begin + all[d].end) - centre) > 32.0 * kUp) continue;
    if (largest == all.size() || std::fabs(all[d].peak) > std::fabs(all[largest].peak)) largest = d;
  }
  if (largest >= all.size()) return std::nullopt;
  // The first deflection: walk back while the one before still rises out of the background.
  const double top = std::fabs(all[largest].peak);
  std::size_t first = largest;
  while (first > 1 && largest - first < 2 && std::fabs(all[first - 1].peak) > 0.2 * top) --first;
  if (first + 3 >= all.size()) return std::nullopt;
  // Onset: where the first deflection leaves 5 % of the top; its crossing may lie far back in
  // noise.
  double onset = all[first].begin;
  for (auto i = static_cast<std::size_t>(std::ceil(all[first].begin));
       static_cast<double>(i) < all[first].end; ++i)
    if (std::fabs(static_cast<double>(y[i])) >= 0.05 * top) {
      onset = std::max(onset, static_cast<double>(i) - 1.0);
      break;
    }
  const double to_ms = 1000.0 / (kWorkRate_hz * kUp);
  Crackle crackle;
  crackle.at_s = (static_cast<double>(begin) + onset / kUp) / kWorkRate_hz;
  crackle.initial_deflection_ms = (all[first].end - onset) * to_ms;
  crackle.two_cycle_ms = (all[first + 3].end - onset) * to_ms;
  crackle.largest_deflection_ms = (all[largest].end - all[largest].begin) * to_ms;
  crackle.is_negative = all[largest].peak < 0.0;
  return crackle;
}

std::vector<Crackle> find_crackles(const Analysis& a, const TransientGates& gates) {
  std::vector<Crackle> crackles;
  constexpr std::size_t kApart = 8;  // ms
  const std::size_t count = a.energy_db.size();
  for (std::size_t i = 2; i + 2 < count; ++i) {
    const double height = static_cast<double>(a.energy_db[i] - a.background_db[i]);
    if (height < gates.min_height_db) continue;
    const std::size_t from = i >= kApart ? i - kApart : 0, to = std::min(count, i + kApart + 1);
    const auto begin = a.energy_db.begin();
    if (std::max_element(begin + static_cast<std::ptrdiff_t>(from),
                         begin + static_cast<std::ptrdiff_t>(to)) !=
        begin + static_cast<std::ptrdiff_t>(i))
      continue;
    // Explosive and short: 6 dB down within 12 ms on both sides.
    const std::size_t left = i >= 12 ? i - 12 : 0, right = std::min(count - 1, i + 12);
    if (a.energy_db[left] > a.energy_db[i] - 6.0f || a.energy_db[right] > a.energy_db[i] - 6.0f)
      continue;
    auto crackle = measure_waveform(a.high_passed, 4 * i);
    if (!crackle || crackle->two_cycle_ms < gates.min_two_cycle_ms ||
        crackle->two_cycle_ms > gates.max_two_cycle_ms)
      continue;
    crackle->height_db = height;
    crackles.push_back(*crackle);
  }
  return crackles;
}

}  // namespace phren::measurement
