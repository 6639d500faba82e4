#include "measurement/network_front.h"

#include <algorithm>
#include <cmath>

#include "measurement/fast_math.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kClickWindow = 64, kClickTransform = 256, kClickHop = 40;
constexpr std::size_t kClickBins = kShortBins;
constexpr std::ptrdiff_t kClickOffset = 20;

// One frame's bands: sums over a few neighbouring bins each.
PHREN_INLINE float band_power(const float* power, const float* weights, std::size_t count) {
  float sum = 0.0f;
  for (std::size_t i = 0; i < count; ++i) sum += power[i] * weights[i];
  return sum;
}

PHREN_SIMD_CLONES double log_sum(const float* row, std::size_t count, float tiny) {
  double total = 0.0;
  for (std::size_t from = 0; from < count; from += 64) {
    float sum = 0.0f;
    const std::size_t to = std::min(count, from + 64);
    for (std::size_t t = from; t < to; ++t) sum += fast_log(row[t] + tiny);
    total += static_cast<double>(sum);
  }
  return total;
}

// row = log(row * gain + floor) - mean of that over time
PHREN_SIMD_CLONES void log_row(float* row, std::size_t count, float gain, float floor) {
  for (std::size_t t = 0; t < count; ++t) row[t] = fast_log(row[t] * gain + floor);
  double sum = 0.0;
  for (std::size_t t = 0; t < count; ++t) sum += static_cast<double>(row[t]);
  const auto mean = static_cast<float>(sum / static_cast<double>(count));
  for (std::size_t t = 0; t < count; ++t) row[t] -= mean;
}

}  // namespace

Result<NetworkFront> NetworkFront::make(const WeightFile& file) {
  const auto unsupported = [&](const std::string& what) {
    return fail(ErrorCode::kUnsupported,
                file.name + ": front end with " + what +
                    "; this program knows windows 512, 192, 64, 64 at 4 kHz");
  };
  const auto& front = file.header.at("front");
  if (front.value("sample_rate_hz", 0.0) != kWorkRate_hz) return unsupported("another sample rate");
  if (front.value("hop", 0u) != kHop) return unsupported("another hop");
  auto clicks = TRY(signal::Stft::make({kClickTransform, kClickWindow, kClickHop, kClickBins}));
  NetworkFront out(std::move(clicks));
  out.num_bands_ = front.value("bands", std::size_t{0});
  out.tiny_ = front.value("tiny", 1e-14f);
  out.relative_floor_ = front.value("relative_floor", 1e-3f);
  for (const auto& entry : front.at("planes")) {
    auto plane = TRY(make_plane(file, entry, out.num_bands_));
    out.planes_.push_back(std::move(plane));
  }
  const auto is = [&](std::size_t p, std::size_t window, std::size_t transform,
                      std::ptrdiff_t offset) {
    const Plane& plane = out.planes_[p];
    return plane.window == window && plane.transform == transform && plane.offset == offset;
  };
  if (out.planes_.size() != 4 || !is(0, kLongWindow, 512, 0) || !is(1, kShortWindow, 256, 0) ||
      !is(2, kClickWindow, kClickTransform, -kClickOffset) ||
      !is(3, kClickWindow, kClickTransform, kClickOffset))
    return unsupported("other planes");
  return out;
}

Result<NetworkFront::Plane> NetworkFront::make_plane(const WeightFile& file,
                                                     const nlohmann::json& entry,
                                                     std::size_t num_bands) {
  Plane plane;
  plane.window = entry.value("window", std::size_t{0});
  plane.transform = entry.value("transform", std::size_t{0});
  plane.offset = entry.value("offset", std::ptrdiff_t{0});
  const std::size_t bins = plane.transform / 2 + 1;
  auto taper = TRY(file.tensor(entry.value("taper", ""), plane.window));
  double sum = 0.0, squares = 0.0;
  for (std::size_t k = 0; k < plane.window; ++k) {
    const double w = static_cast<double>(taper[k]);
    const double hann = 0.5 - 0.5 * std::cos(2.0 * M_PI * static_cast<double>(k) /
                                             static_cast<double>(plane.window));
    if (std::fabs(w - hann) > 1e-4)
      return fail(ErrorCode::kUnsupported, file.name + ": a taper that is not a Hann window");
    sum += w;
    squares += w * w;
  }
  plane.scale = static_cast<float>(squares / (sum * sum));
  auto matrix = TRY(file.tensor(entry.value("matrix", ""), num_bands * bins));
  for (std::size_t b = 0; b < num_bands; ++b) {
    const auto row = matrix.subspan(b * bins, bins);
    std::size_t first = 0, end = bins;
    while (first < bins && row[first] == 0.0f) ++first;
    while (end > first && row[end - 1] == 0.0f) --end;
    if (end > (plane.transform == 512 ? kLongBins : kShortBins))
      return fail(ErrorCode::kUnsupported, file.name + ": a band above 1300 Hz");
    Band band;
    band.first_bin = first;
    for (std::size_t k = first; k < end; ++k) band.weights.push_back(row[k] * plane.scale);
    plane.bands.push_back(std::move(band));
  }
  return plane;
}

void NetworkFront::measure_clicks(const Analysis& a) {
  constexpr std::size_t kLead = kClickWindow / 2 + static_cast<std::size_t>(kClickOffset);
  const std::size_t frames = 2 * a.num_frames;
  padded_.assign(kLead + frames * kClickHop + kClickWindow, 0.0f);
  std::copy(a.samples.begin(), a.samples.end(), padded_.begin() + kLead);
  click_power_.resize(frames * kClickBins);
  if (frames > 0)
    clicks_.process({padded_.data(), (frames - 1) * kClickHop + kClickWindow}, click_power_);
}

void NetworkFront::fill_plane(std::size_t p, const float* power, std::size_t step, std::size_t bins,
                              Rows& out) {
  const std::size_t frames = out.length();
  for (std::size_t b = 0; b < num_bands_; ++b) {
    const Band& band = planes_[p].bands[b];
    float* row = out.row(p * num_bands_ + b);
    const float* from = power + band.first_bin;
    for (std::size_t t = 0; t < frames; ++t)
      row[t] = band_power(from + t * step * bins, band.weights.data(), band.weights.size());
  }
}

void NetworkFront::normalise(Rows& out) const {
  const std::size_t frames = out.length();
  double sum = 0.0;
  for (std::size_t b = 0; b < num_bands_; ++b)
    sum += log_sum(out.row(num_bands_ + b), frames, tiny_);
  const double level = sum / static_cast<double>(num_bands_ * frames);
  const auto gain = static_cast<float>(std::exp(-level));
  for (std::size_t r = 0; r < out.num_rows(); ++r)
    log_row(out.row(r), frames, gain, relative_floor_);
}

void NetworkFront::run(const Analysis& a, Rows& out) {
  out.resize(planes_.size() * num_bands_, a.num_frames);
  if (a.num_frames == 0) return;
  measure_clicks(a);
  fill_plane(0, a.long_power.data(), 1, kLongBins, out);
  fill_plane(1, a.short_power.data(), 1, kShortBins, out);
  fill_plane(2, click_power_.data(), 2, kClickBins, out);
  fill_plane(3, click_power_.data() + kClickBins, 2, kClickBins, out);
  normalise(out);
}

}  // namespace phren::measurement
