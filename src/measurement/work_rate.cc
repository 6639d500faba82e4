#include "measurement/work_rate.h"

#include <array>
#include <cmath>

#include "measurement/types.h"
#include "signal/simd.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kTaps = 10;  // on each side, odd offsets 1, 3, ... 19

// Windowed-sinc half-band filter: Kaiser window, beta 8 (about 80 dB).
std::array<float, kTaps> half_band_taps() {
  const auto bessel = [](double x) {
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 40; ++k) {
      term *= (x / 2.0 / k) * (x / 2.0 / k);
      sum += term;
    }
    return sum;
  };
  std::array<double, kTaps> taps{};
  double total = 0.0;
  for (std::size_t j = 0; j < kTaps; ++j) {
    const double offset = 2.0 * static_cast<double>(j) + 1.0;
    const double position = offset / (2.0 * kTaps);
    const double sinc = std::sin(M_PI * offset / 2.0) / (M_PI * offset);
    taps[j] = sinc * bessel(8.0 * std::sqrt(1.0 - position * position)) / bessel(8.0);
    total += 2.0 * taps[j];
  }
  std::array<float, kTaps> out{};
  for (std::size_t j = 0; j < kTaps; ++j) out[j] = static_cast<float>(taps[j] * 0.5 / total);
  return out;
}
const std::array<float, kTaps> kHalfBand = half_band_taps();

// out[m] = even[m + kTaps] / 2 + sum over taps of odd on both sides.
PHREN_SIMD_CLONES void half_band(const float* even, const float* odd, std::size_t count, float* out,
                                 const float* taps) {
  for (std::size_t m = 0; m < count; ++m) out[m] = 0.5f * even[m + kTaps];
  for (std::size_t j = 0; j < kTaps; ++j) {
    const float* before = odd + kTaps - 1 - j;
    const float* after = odd + kTaps + j;
    const float tap = taps[j];
    for (std::size_t m = 0; m < count; ++m) out[m] += tap * (before[m] + after[m]);
  }
}

}  // namespace

HalfBand::HalfBand() : even_(kTaps, 0.0f), odd_(kTaps, 0.0f) {}

void HalfBand::process(std::span<const float> in, std::vector<float>& out) {
  num_in_ += in.size();
  if (next_is_odd_ && !in.empty()) {
    odd_.push_back(in.front());
    in = in.subspan(1);
    next_is_odd_ = false;
  }
  const std::size_t pairs = in.size() / 2, e = even_.size(), o = odd_.size();
  even_.resize(e + pairs);
  odd_.resize(o + pairs);
  for (std::size_t m = 0; m < pairs; ++m) {
    even_[e + m] = in[2 * m];
    odd_[o + m] = in[2 * m + 1];
  }
  if (in.size() % 2 == 1) {
    even_.push_back(in.back());
    next_is_odd_ = true;
  }
  produce(out);
}

void HalfBand::produce(std::vector<float>& out) {
  // Output m needs even[m + kTaps] and odd up to [m + 2 kTaps - 1].
  const std::size_t ready = odd_.size() >= 2 * kTaps ? odd_.size() - 2 * kTaps + 1 : 0;
  const std::size_t count = std::min(ready, even_.size() > kTaps ? even_.size() - kTaps : 0);
  if (count == 0) return;
  const std::size_t before = out.size();
  out.resize(before + count);
  half_band(even_.data(), odd_.data(), count, out.data() + before, kHalfBand.data());
  num_out_ += count;
  even_.erase(even_.begin(), even_.begin() + static_cast<std::ptrdiff_t>(count));
  odd_.erase(odd_.begin(), odd_.begin() + static_cast<std::ptrdiff_t>(count));
}

void HalfBand::finish(std::vector<float>& out) {
  const std::size_t wanted = (num_in_ + 1) / 2 - num_out_;
  const std::size_t size = out.size() + wanted;
  even_.insert(even_.end(), wanted + kTaps + 1, 0.0f);
  odd_.insert(odd_.end(), wanted + 2 * kTaps + 1, 0.0f);
  produce(out);
  out.resize(size);
}

Result<WorkRate> WorkRate::make(double from_hz) {
  if (!(from_hz >= signal::kMinSampleRate_hz && from_hz <= signal::kMaxSampleRate_hz))
    return fail(out_of_range("sample_rate_hz", from_hz, "between 1000 and 384000"));
  WorkRate rate;
  double at_hz = from_hz;
  while (at_hz > kWorkRate_hz) at_hz /= 2.0;
  const double least_hz = at_hz == kWorkRate_hz ? kWorkRate_hz : 2.0 * kWorkRate_hz;
  for (at_hz = from_hz; at_hz >= 2.0 * least_hz && std::fmod(at_hz, 2.0) == 0.0; at_hz /= 2.0)
    rate.halvings_.emplace_back();
  rate.between_.resize(rate.halvings_.size());
  if (at_hz != kWorkRate_hz) rate.resampler_ = TRY(signal::Resampler::make(at_hz, kWorkRate_hz));
  return rate;
}

void WorkRate::process(std::span<const float> in, std::vector<float>& out) {
  for (std::size_t k = 0; k < halvings_.size(); ++k) {
    between_[k].clear();
    halvings_[k].process(k == 0 ? in : std::span<const float>(between_[k - 1]), between_[k]);
  }
  deliver(halvings_.empty() ? in : std::span<const float>(between_.back()), out);
}

void WorkRate::deliver(std::span<const float> halved, std::vector<float>& out) {
  if (resampler_) return resampler_->process(halved, out);
  out.insert(out.end(), halved.begin(), halved.end());
}

void WorkRate::finish(std::vector<float>& out) {
  for (std::size_t k = 0; k < halvings_.size(); ++k) {
    between_[k].clear();
    if (k > 0) halvings_[k].process(between_[k - 1], between_[k]);
    halvings_[k].finish(between_[k]);
  }
  if (!halvings_.empty()) deliver(between_.back(), out);
  if (resampler_) resampler_->finish(out);
}

}  // namespace phren::measurement
