#include "measurement/quality.h"

#include <algorithm>
#include <cmath>

#include "measurement/fast_math.h"
#include "measurement/lanes.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr float kFull = 0.985f;           // of full scale
constexpr double kClippedShare = 0.0005;  // of samples, in runs of at least three
constexpr double kSilence_dbfs = -85.0;   // below the last bits of 16
constexpr double kTooShort_s = 2.0;       // no whole breath
constexpr double kVoicedShare = 0.25;     // of frames with a stack of harmonics
constexpr double kThumps_per_s = 0.6;

float band_level(const float* row, double low_hz, double high_hz) {
  float sum = 0.0f;
  const auto low = static_cast<std::size_t>(low_hz / kShortBin_hz + 0.5);
  const auto high = static_cast<std::size_t>(high_hz / kShortBin_hz + 0.5);
  for (std::size_t k = low; k < high; ++k) sum += row[k];
  return power_db(sum);
}

struct PeakAndEnergy {
  float peak, energy;
};
PHREN_SIMD_CLONES PeakAndEnergy peak_and_energy(const float* x, std::size_t count) {
  return {lane_max(count, 0.0f, [&](std::size_t i) { return x[i] < 0.0f ? -x[i] : x[i]; }),
          lane_sum(count, [&](std::size_t i) { return x[i] * x[i]; })};
}

// A voice: of the first five partials of one pitch, at least three stand out of the spectrum if it
// is a low one (90-200 Hz), at least four up to 310 Hz. Fewer, or higher, may be a wheeze.
bool is_voiced(const float* height) {
  for (std::size_t k = 12; k <= 40; ++k) {
    if (height[k] < 10.0f || height[k] < height[k - 1] || height[k] < height[k + 1]) continue;
    int harmonics = 1;
    for (std::size_t m = 2; m <= 5; ++m) {
      const std::size_t at = m * k;
      if (at + 2 >= kToneBins) break;
      const float top = std::max({height[at - 1], height[at], height[at + 1]});
      harmonics += top > 9.0f ? 1 : 0;
    }
    if (harmonics >= (k <= 25 ? 3 : 4)) return true;
  }
  return false;
}

}  // namespace

void QualityMeter::add_native(std::span<const float> samples) {
  const auto [highest, energy] = peak_and_energy(samples.data(), samples.size());
  energy_ += static_cast<double>(energy);
  num_samples_ += samples.size();
  if (highest < kFull) {
    run_ = 0;
    return;
  }
  for (const float x : samples) {
    const bool is_stuck = std::fabs(x) >= kFull && (run_ == 0 || (x > 0.0f) == (previous_ > 0.0f));
    run_ = is_stuck ? run_ + 1 : 0;
    if (run_ == 3) num_clipped_ += 3;
    if (run_ > 3) ++num_clipped_;
    previous_ = x;
  }
}

void QualityMeter::add_piece(const Analysis& a, std::size_t first_frame, std::size_t end_frame) {
  for (std::size_t t = first_frame; t < std::min(end_frame, a.num_frames); ++t) {
    const float* row = a.short_power.data() + t * kShortBins;
    const float low = band_level(row, 30.0, 150.0), mid = band_level(row, 200.0, 800.0);
    // Contact: the low band jumps by 15 dB within 40 ms.
    if (num_frames_ >= 2 && low > before_last_low_db_ + 15.0f && low > -50.0f) ++num_thumps_;
    before_last_low_db_ = last_low_db_;
    last_low_db_ = low;
    if (low_db_.size() < 3000) low_db_.push_back(low);
    num_voiced_ += is_voiced(a.tone_height_db.data() + t * kToneBins) ? 1 : 0;
    flatness_sum_db_ += static_cast<double>(band_level(row, 800.0, 1300.0) - mid);
    ++num_frames_;
  }
}

double QualityMeter::rms_dbfs() const {
  return num_samples_ == 0
             ? -200.0
             : signal::dbfs_from_rms(std::sqrt(energy_ / static_cast<double>(num_samples_)));
}

// How strongly the low band beats at 50-180 a minute, as an autocorrelation.
double QualityMeter::heart_modulation() const {
  const std::vector<float> level = signal::smoothed(low_db_, 1);
  const std::size_t n = std::min<std::size_t>(level.size(), 3000);
  if (n < 120) return 0.0;
  double mean = 0.0, power = 1e-9, best = 0.0;
  for (std::size_t i = 0; i < n; ++i)
    mean += static_cast<double>(level[i]) / static_cast<double>(n);
  for (std::size_t i = 0; i < n; ++i) power += std::pow(static_cast<double>(level[i]) - mean, 2.0);
  for (std::size_t lag = 17; lag <= 60; ++lag) {
    double sum = 0.0;
    for (std::size_t i = 0; i + lag < n; ++i)
      sum += (static_cast<double>(level[i]) - mean) * (static_cast<double>(level[i + lag]) - mean);
    best = std::max(best, sum / power);
  }
  return best;
}

Quality QualityMeter::result(double duration_s, const Breathing& breathing,
                             double poor_probability) const {
  Quality q;
  q.poor_probability = poor_probability;
  const double frames = std::max(1.0, static_cast<double>(num_frames_));
  const auto samples = std::max(1.0, static_cast<double>(num_samples_));
  if (rms_dbfs() < kSilence_dbfs) q.reasons.push_back(QualityReason::kSilence);
  if (duration_s < kTooShort_s) q.reasons.push_back(QualityReason::kTooShort);
  if (static_cast<double>(num_clipped_) / samples > kClippedShare)
    q.reasons.push_back(QualityReason::kClipping);
  const bool is_silent = !q.reasons.empty() && q.reasons.front() == QualityReason::kSilence;
  if (!is_silent && static_cast<double>(num_voiced_) / frames > kVoicedShare)
    q.reasons.push_back(QualityReason::kSpeech);
  if (!is_silent && static_cast<double>(num_thumps_) / std::max(1.0, duration_s) > kThumps_per_s &&
      poor_probability > 0.5)
    q.reasons.push_back(QualityReason::kContactNoise);
  // The next two only explain a recording that the models doubt.
  if (!is_silent && poor_probability > 0.5) {
    if (heart_modulation() > 0.35 && breathing.confidence < 0.3)
      q.reasons.push_back(QualityReason::kHeartOnly);
    else if (flatness_sum_db_ / frames > -12.0)
      q.reasons.push_back(QualityReason::kNoise);
    if (q.reasons.empty()) q.reasons.push_back(QualityReason::kLooksPoor);
  }
  // A steady noise as even as an idle microphone: no breath in it, whatever the models say.
  if (!is_silent && duration_s > 5.0 && breathing.phases.empty() &&
      flatness_sum_db_ / frames > -6.0 &&
      std::find(q.reasons.begin(), q.reasons.end(), QualityReason::kNoise) == q.reasons.end())
    q.reasons.push_back(QualityReason::kNoise);
  q.is_usable = q.reasons.empty();
  return q;
}

}  // namespace phren::measurement
