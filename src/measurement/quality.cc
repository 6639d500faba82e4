#include "measurement/quality.h"

#include <algorithm>
#include <array>
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
// A voice: this share of the frames of 2.56 s have a stack of harmonics, and their pitch moves: it
// stays for 80 ms at each of five places 8 Hz apart (a rhonchus keeps its pitch).
constexpr double kVoicedShare = 0.35;
constexpr std::size_t kPitches = 5, kPitchFrames = 4;
constexpr std::size_t kVoicedFrames = 128;
// Contact. Thumps: three peaks, 0.3 s apart, that stand out of the low band's own highest tenth, or
// of that of the low band over the middle one. Rubbing: frames in which what is above 800 Hz, where
// a chest has little, stands out of its own highest fifth.
constexpr std::size_t kNumThumps = 3, kThumpFrames = 15;
constexpr double kThump_db = 18.0, kLowThump_db = 10.0;
// And the low band is that far over the middle one, as in no crackle or cough.
constexpr double kLeastOver_db = 10.0, kLeastLowThump_db = 15.0;
constexpr std::size_t kRubbedFrames = 28;
constexpr double kRub_db = 25.0;
constexpr std::size_t kFewestFrames = 100, kMostFrames = 3000;  // of Levels: 2 s, a minute
// A gap: the same sample for 25 ms, with a step before or after it of eight of the last bits of 16.
constexpr double kGap_s = 0.025;
constexpr float kGapStep = 8.0f / 32768.0f;

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
// Returns the pitch in bins; 0 for no voice.
std::size_t pitch_of(const float* height) {
  for (std::size_t k = 12; k <= 40; ++k) {
    if (height[k] < 10.0f || height[k] < height[k - 1] || height[k] < height[k + 1]) continue;
    int harmonics = 1;
    for (std::size_t m = 2; m <= 5; ++m) {
      const std::size_t at = m * k;
      if (at + 2 >= kToneBins) break;
      const float top = std::max({height[at - 1], height[at], height[at + 1]});
      harmonics += top > 9.0f ? 1 : 0;
    }
    if (harmonics >= (k <= 25 ? 3 : 4)) return k;
  }
  return 0;
}

}  // namespace

QualityMeter::QualityMeter(double sample_rate_hz)
    : sample_rate_hz_(sample_rate_hz), pitches_(kVoicedFrames) {}

void QualityMeter::watch_gaps(std::span<const float> samples) {
  const auto least = static_cast<std::size_t>(kGap_s * sample_rate_hz_);
  for (const float x : samples) {
    const float step = std::fabs(x - last_);
    if (step == 0.0f && std::fabs(x) < kFull) {
      ++num_stuck_;
    } else {
      // What is stuck from the start was never running.
      if (num_stuck_ >= least && num_running_ > 0 && std::max(step_in_, step) > kGapStep)
        ++num_gaps_;
      num_stuck_ = 0;
      step_in_ = step;
      ++num_running_;
    }
    last_ = x;
  }
}

void QualityMeter::add_native(std::span<const float> samples) {
  watch_gaps(samples);
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
    const float high = band_level(row, 800.0, 1300.0);
    if (low_db_.size() < kMostFrames) low_db_.push_back(low);
    levels_.low_db.push_back(static_cast<double>(low));
    levels_.mid_db.push_back(static_cast<double>(mid));
    levels_.high_db.push_back(static_cast<double>(high));
    if (levels_.low_db.size() == kMostFrames) {
      has_contact_ = has_contact_ || has_contact(levels_, is_clipped());
      levels_ = {};
    }
    const std::size_t pitch = pitch_of(a.tone_height_db.data() + t * kToneBins);
    std::size_t& oldest = pitches_[num_frames_ % kVoicedFrames];
    num_voiced_ = num_voiced_ + (pitch > 0 ? 1 : 0) - (oldest > 0 ? 1 : 0);
    oldest = pitch;
    has_voice_ = has_voice_ || is_speaking();
    flatness_sum_db_ += static_cast<double>(high - mid);
    ++num_frames_;
  }
}

namespace {

// The lowest of the highest peaks, each with none higher beside it.
double lowest_peak(const std::vector<double>& v) {
  std::vector<std::size_t> order(v.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return v[a] > v[b]; });
  std::vector<std::size_t> peaks;
  for (const std::size_t i : order) {
    const bool is_beside = std::any_of(peaks.begin(), peaks.end(), [&](std::size_t p) {
      return (p > i ? p - i : i - p) < kThumpFrames;
    });
    if (!is_beside) peaks.push_back(i);
    if (peaks.size() == kNumThumps) return v[i];
  }
  return -200.0;
}

}  // namespace

bool QualityMeter::has_contact(const Levels& levels, bool is_clipped) {
  const std::size_t n = levels.low_db.size();
  if (n < kFewestFrames) return false;
  const double middle = signal::percentile_of(levels.mid_db, 50.0);
  std::vector<double> over(n), low(n, -200.0);
  for (std::size_t t = 0; t < n; ++t) {
    over[t] = levels.low_db[t] - std::max(middle, levels.mid_db[t]);
    if (over[t] > kLeastOver_db) low[t] = levels.low_db[t];
  }
  const double low_top_db = signal::percentile_of(levels.low_db, 90.0);
  const double over_top_db = signal::percentile_of(over, 90.0);
  if (lowest_peak(low) > low_top_db + kThump_db ||
      lowest_peak(over) > std::max(over_top_db + kLowThump_db, kLeastLowThump_db))
    return true;
  if (is_clipped) return false;  // which fills the same frequencies
  const double from_db = signal::percentile_of(levels.high_db, 80.0) + kRub_db;
  const auto rubbed = std::count_if(levels.high_db.begin(), levels.high_db.end(),
                                    [&](double level_db) { return level_db > from_db; });
  return static_cast<std::size_t>(rubbed) >= kRubbedFrames;
}

bool QualityMeter::is_speaking() const {
  if (num_voiced_ <= static_cast<std::size_t>(kVoicedShare * kVoicedFrames)) return false;
  std::array<std::size_t, kToneBins> frames{};
  for (const std::size_t pitch : pitches_)
    if (pitch > 0) ++frames[pitch];
  const auto stays = [](std::size_t count) { return count >= kPitchFrames; };
  return static_cast<std::size_t>(std::count_if(frames.begin(), frames.end(), stays)) >= kPitches;
}

bool QualityMeter::is_clipped() const {
  const auto samples = std::max(1.0, static_cast<double>(num_samples_));
  return static_cast<double>(num_clipped_) / samples > kClippedShare;
}

bool Quality::can_be_labelled() const {
  return std::all_of(reasons.begin(), reasons.end(), [](QualityReason reason) {
    return reason == QualityReason::kContactNoise || reason == QualityReason::kGaps;
  });
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
  if (rms_dbfs() < kSilence_dbfs) q.reasons.push_back(QualityReason::kSilence);
  if (duration_s < kTooShort_s) q.reasons.push_back(QualityReason::kTooShort);
  if (is_clipped()) q.reasons.push_back(QualityReason::kClipping);
  const bool is_silent = !q.reasons.empty() && q.reasons.front() == QualityReason::kSilence;
  if (!is_silent && has_voice_) q.reasons.push_back(QualityReason::kSpeech);
  if (!is_silent && (has_contact_ || has_contact(levels_, is_clipped())))
    q.reasons.push_back(QualityReason::kContactNoise);
  if (num_gaps_ > 0) q.reasons.push_back(QualityReason::kGaps);
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
