#include "signal/resample.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "base/det_math.h"

namespace phren::signal {
namespace {

constexpr double kCrossings = 32.0;            // of the sinc on each side
constexpr double kBeta = 8.5;                  // of the Kaiser window
constexpr std::uint64_t kMostKept = 1u << 22;  // weights that are kept rather than made each time

double bessel_i0(double x) {
  double sum = 1.0, term = 1.0;
  for (int k = 1; k < 40; ++k) {
    term *= (x / 2.0 / k) * (x / 2.0 / k);
    sum += term;
  }
  return sum;
}

// `t` in zero crossings of the sinc.
double kernel(double t) {
  const double u = t / kCrossings;
  if (std::fabs(u) >= 1.0) return 0.0;
  const double angle = 0.5 * det::kTwoPi * t;
  const double sinc = std::fabs(t) < 1e-9 ? 1.0 : det::sin(angle) / angle;
  static const double top = bessel_i0(kBeta);
  return sinc * bessel_i0(kBeta * det::sqrt(1.0 - u * u)) / top;
}

bool is_whole(double rate_hz) {
  return rate_hz == std::floor(rate_hz);
}

}  // namespace

Resampler::Resampler(double from_hz, double to_hz) : ratio_(from_hz / to_hz) {
  if (from_hz == to_hz) return;
  half_ = static_cast<std::size_t>(std::ceil(kCrossings * std::max(1.0, ratio_)));
  waiting_.assign(half_, 0.0f);  // silence before the start
  if (is_whole(from_hz) && is_whole(to_hz)) {
    const auto from = static_cast<std::uint64_t>(from_hz), to = static_cast<std::uint64_t>(to_hz);
    const std::uint64_t common = std::gcd(from, to);
    if (to / common * 2 * half_ <= kMostKept) {
      step_ = from / common;
      phases_ = to / common;
    }
  }
  const auto rows = static_cast<std::size_t>(std::max<std::uint64_t>(1, phases_));
  weights_.resize(rows * 2 * half_);
  for (std::size_t p = 0; p < phases_; ++p)
    weigh(static_cast<double>(p) / static_cast<double>(phases_), weights_.data() + p * 2 * half_);
}

Result<Resampler> Resampler::make(double from_hz, double to_hz) {
  constexpr std::string_view kAllowed = "between 1000 and 384000 Hz";
  if (!(from_hz >= kMinSampleRate_hz && from_hz <= kMaxSampleRate_hz))
    return fail(out_of_range("from_hz", from_hz, kAllowed));
  if (!(to_hz >= kMinSampleRate_hz && to_hz <= kMaxSampleRate_hz))
    return fail(out_of_range("to_hz", to_hz, kAllowed));
  return Resampler(from_hz, to_hz);
}

void Resampler::weigh(double part, float* weights) const {
  const double narrow = std::min(1.0, 1.0 / ratio_);
  for (std::size_t k = 0; k < 2 * half_; ++k) {
    const double offset = static_cast<double>(k) - static_cast<double>(half_ - 1) - part;
    weights[k] = static_cast<float>(narrow * kernel(narrow * offset));
  }
}

void Resampler::produce(std::vector<float>& out) {
  while (true) {
    // The input just before the output; waiting_ starts half_ samples before num_dropped_.
    std::uint64_t before = 0;
    const float* weights = weights_.data();
    if (phases_ > 0) {
      before = num_out_ * step_ / phases_;
      weights += static_cast<std::size_t>(num_out_ * step_ % phases_) * 2 * half_;
    } else {
      const double at = static_cast<double>(num_out_) * ratio_;
      before = static_cast<std::uint64_t>(at);
    }
    const auto first = static_cast<std::size_t>(before + 1 - num_dropped_);  // in waiting_
    if (before >= num_in_ || first + 2 * half_ > waiting_.size()) break;
    if (phases_ == 0)
      weigh(static_cast<double>(num_out_) * ratio_ - static_cast<double>(before), weights_.data());
    double sum = 0.0;
    for (std::size_t k = 0; k < 2 * half_; ++k)
      sum += static_cast<double>(weights[k]) * static_cast<double>(waiting_[first + k]);
    out.push_back(static_cast<float>(sum));
    ++num_out_;
  }
  // What no later output needs.
  const auto next = phases_ > 0
                        ? num_out_ * step_ / phases_
                        : static_cast<std::uint64_t>(static_cast<double>(num_out_) * ratio_);
  const std::uint64_t dropped = std::min<std::uint64_t>(next - num_dropped_, waiting_.size());
  waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(dropped));
  num_dropped_ += dropped;
}

void Resampler::process(std::span<const float> in, std::vector<float>& out) {
  if (half_ == 0) {
    out.insert(out.end(), in.begin(), in.end());
    return;
  }
  num_in_ += in.size();
  waiting_.insert(waiting_.end(), in.begin(), in.end());
  produce(out);
}

void Resampler::finish(std::vector<float>& out) {
  if (half_ == 0) return;
  waiting_.insert(waiting_.end(), half_ + 1, 0.0f);  // silence behind the end
  produce(out);
}

Result<Audio> resample(const Audio& audio, double to_hz) {
  auto resampler = TRY(Resampler::make(audio.sample_rate_hz, to_hz));
  Audio out;
  out.sample_rate_hz = to_hz;
  resampler.process(audio.samples, out.samples);
  resampler.finish(out.samples);
  return out;
}

}  // namespace phren::signal
