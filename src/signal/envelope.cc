#include "signal/envelope.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "base/det_math.h"

namespace phren::signal {

double rms(std::span<const float> samples) {
  double sum = 0.0;
  for (const float x : samples) sum += static_cast<double>(x) * static_cast<double>(x);
  return samples.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(samples.size()));
}

double dbfs_from_rms(double rms_value) {
  return rms_value > 1e-10 ? 20.0 * det::log10(rms_value) : -200.0;
}

std::vector<float> rms_envelope(std::span<const float> samples, std::size_t window_samples,
                                std::size_t hop_samples) {
  assert(window_samples >= 1 && hop_samples >= 1);
  std::vector<float> envelope;
  for (std::size_t start = 0; start < samples.size(); start += hop_samples)
    envelope.push_back(static_cast<float>(
        rms(samples.subspan(start, std::min(window_samples, samples.size() - start)))));
  return envelope;
}

double percentile_of(std::vector<double> values, double percent) {
  if (values.empty()) return 0.0;
  const double rank =
      std::clamp(percent, 0.0, 100.0) / 100.0 * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(rank);
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(low);
  std::nth_element(values.begin(), at, values.end());
  const double below = *at;
  if (low + 1 >= values.size()) return below;
  const double above = *std::min_element(at + 1, values.end());
  return below + (rank - static_cast<double>(low)) * (above - below);
}

double median_of(std::vector<double> values) {
  return percentile_of(std::move(values), 50.0);
}

std::vector<float> smoothed(std::span<const float> values, std::size_t radius) {
  std::vector<double> sums(values.size() + 1, 0.0);
  for (std::size_t i = 0; i < values.size(); ++i)
    sums[i + 1] = sums[i] + static_cast<double>(values[i]);
  std::vector<float> out(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::size_t low = i > radius ? i - radius : 0;
    const std::size_t high = std::min(values.size(), i + radius + 1);
    out[i] = static_cast<float>((sums[high] - sums[low]) / static_cast<double>(high - low));
  }
  return out;
}

}  // namespace phren::signal
