#include "measurement/sound_kind.h"

#include <algorithm>
#include <cmath>

#include "measurement/fast_math.h"

namespace phren::measurement {
namespace {

constexpr std::array<std::size_t, kNumSoundBands + 1> kEdges{3,  4,  5,  6,  8,  10, 12, 15, 19,
                                                             24, 30, 37, 45, 54, 64, 74, 84};

constexpr std::ptrdiff_t kTop = 239;  // the last bin

SoundStatistics standardised(const KindModel& model, const SoundStatistics& x) {
  SoundStatistics out{};
  for (std::size_t i = 0; i < x.size(); ++i)
    out[i] = std::clamp((x[i] - model.mean[i]) / model.deviation[i], -6.0, 6.0);
  return out;
}

}  // namespace

void SoundMeter::add(const Analysis& a, std::size_t first_frame, std::size_t end_frame) {
  for (std::size_t t = first_frame; t < std::min(end_frame, a.num_frames); ++t) {
    const float* row = a.short_power.data() + t * kShortBins;
    for (std::size_t b = 0; b < kNumSoundBands; ++b) {
      float power = 0.0f;
      for (std::size_t k = kEdges[b]; k < kEdges[b + 1]; ++k) power += row[k];
      const auto db =
          static_cast<double>(power_db(power / static_cast<float>(kEdges[b + 1] - kEdges[b])));
      sum_[b] += db;
      squares_[b] += db * db;
      const auto at = static_cast<std::ptrdiff_t>(std::floor(db)) - kLowest_db;
      ++counts_[b][static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(at, 0, kTop))];
    }
    num_frames_ += 1.0;
  }
}

SoundStatistics SoundMeter::statistics() const {
  SoundStatistics out{};
  if (num_frames_ < 1.0) return out;
  double all = 0.0;
  for (std::size_t b = 0; b < kNumSoundBands; ++b) {
    out[b] = sum_[b] / num_frames_;
    all += out[b] / static_cast<double>(kNumSoundBands);
    out[kNumSoundBands + b] = std::sqrt(std::max(0.0, squares_[b] / num_frames_ - out[b] * out[b]));
  }
  for (std::size_t b = 0; b < kNumSoundBands; ++b) out[b] -= all;
  return out;
}

double SoundMeter::level_db(std::size_t band, double share) const {
  double left = share * num_frames_;
  for (std::size_t k = 0; k < counts_[band].size(); ++k) {
    const double here = counts_[band][k];
    if (left <= here && here > 0.0) return kLowest_db + static_cast<double>(k) + left / here;
    left -= here;
  }
  return kLowest_db;
}

FloorStatistics SoundMeter::floor_statistics() const {
  FloorStatistics out{};
  if (num_frames_ < 1.0) return out;
  constexpr std::array<double, 3> kShares{0.05, 0.5, 0.95};
  const SoundStatistics plain = statistics();
  double middle = 0.0;
  for (std::size_t b = 0; b < kNumSoundBands; ++b) {
    for (std::size_t q = 0; q < kShares.size(); ++q)
      out[q * kNumSoundBands + b] = level_db(b, kShares[q]);
    middle += out[kNumSoundBands + b] / static_cast<double>(kNumSoundBands);
    out[3 * kNumSoundBands + b] = plain[kNumSoundBands + b];
  }
  for (std::size_t i = 0; i < 3 * kNumSoundBands; ++i) out[i] -= middle;
  return out;
}

double ClipOnModel::probability(const FloorStatistics& x) const {
  double z = weights.back();
  for (std::size_t i = 0; i < x.size(); ++i)
    z += weights[i] * std::clamp((x[i] - mean[i]) / deviation[i], -4.0, 4.0);
  return 1.0 / (1.0 + std::exp(-z));
}

KindProbabilities KindModel::probabilities(const SoundStatistics& statistics) const {
  const SoundStatistics x = standardised(*this, statistics);
  KindProbabilities p{};
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
    p[k] = weights[k][kNumSoundStatistics];
    for (std::size_t i = 0; i < x.size(); ++i) p[k] += weights[k][i] * x[i];
  }
  const double top = *std::max_element(p.begin(), p.end());
  double sum = 0.0;
  for (double& v : p) v = std::exp(v - top), sum += v;
  for (double& v : p) v /= sum;
  return p;
}

double KindModel::distance(const SoundStatistics& statistics) const {
  const SoundStatistics x = standardised(*this, statistics);
  double least = 1e9;
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
    double sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i)
      sum += std::pow((x[i] - centre[k][i]) / spread[k][i], 2.0);
    least = std::min(least, std::sqrt(sum / static_cast<double>(x.size())));
  }
  return least;
}

}  // namespace phren::measurement
