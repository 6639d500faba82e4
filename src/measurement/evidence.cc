#include "measurement/evidence.h"

#include <algorithm>
#include <cmath>

namespace phren::measurement {
namespace {

constexpr double kWindow_s = 2.5;  // about a breath, for heads that label breaths
constexpr double kFrameLength_s = 0.04;
constexpr std::size_t kContinuous = 3, kCrackle = 4;  // outputs of the networks' frames
constexpr std::size_t kPeakFrames = 8;                // 320 ms

std::size_t feature_index(std::string_view name) {
  const auto& names = feature_names();
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
}

double log_odds(double p) {
  constexpr double kLeast = 1e-4;
  return std::log(p + kLeast) - std::log(1.0 - p + kLeast);
}

// Continuous, crackle, normal.
std::array<double, 3> chances_of(const EventProbabilities& p) {
  const auto at = [&](EventLabel label) { return p[static_cast<std::size_t>(label)]; };
  return {at(EventLabel::kRhonchi) + at(EventLabel::kWheeze) + at(EventLabel::kStridor) +
              at(EventLabel::kMixed),
          at(EventLabel::kCoarseCrackle) + at(EventLabel::kFineCrackle) + at(EventLabel::kMixed),
          at(EventLabel::kNormal)};
}

std::array<double, 3> chances_of(const RecordProbabilities& p) {
  const auto at = [&](RecordLabel label) { return p[static_cast<std::size_t>(label)]; };
  return {at(RecordLabel::kContinuous) + at(RecordLabel::kBoth),
          at(RecordLabel::kDiscontinuous) + at(RecordLabel::kBoth), at(RecordLabel::kNormal)};
}

// The largest mean over kPeakFrames of one output.
double peak_of(const std::vector<float>& logits, std::size_t output, std::size_t length) {
  const std::size_t window = std::min(kPeakFrames, length);
  const float* row = logits.data() + output * length;
  double sum = 0.0, top = -1e30;
  for (std::size_t t = 0; t < length; ++t) {
    sum += static_cast<double>(row[t]);
    if (t + 1 < window) continue;
    top = std::max(top, sum / static_cast<double>(window));
    sum -= static_cast<double>(row[t + 1 - window]);
  }
  return top;
}

}  // namespace

const std::array<std::string_view, kNumRecordEvidence>& record_evidence_names() {
  static constexpr std::array<std::string_view, kNumRecordEvidence> kNames{
      "breaths_continuous",    "breaths_crackle",    "breaths_normal",     "child_continuous",
      "child_crackle",         "child_normal",       "adult_continuous",   "adult_crackle",
      "adult_normal",          "peak_continuous",    "peak_crackle",       "ridge_low_best_db",
      "ridge_high_best_db",    "band_150_spread_db", "band_300_spread_db", "band_800_spread_db",
      "crackle_height_mean_db"};
  return kNames;
}

const std::array<std::string_view, kNumEventEvidence>& event_evidence_names() {
  static constexpr std::array<std::string_view, kNumEventEvidence> kNames{
      "crackle_height_max_db", "crackle_count",      "flatness_600_1300_db", "ridge_low_best_db",
      "ridge_high_best_db",    "band_400_spread_db", "top_continuous",       "clip_on"};
  return kNames;
}

void EvidenceMeter::add(const Network& network, const PieceContext& context, double from_s,
                        double to_s) {
  const double weight = to_s - from_s;
  if (weight <= 0.0) return;
  std::array<double, 3> breaths{};
  const auto num = std::max(1.0, std::floor(weight / kWindow_s));
  const double window_s = std::min(kWindow_s, weight);
  for (double k = 0.0; k < num; k += 1.0) {
    const double start_s = from_s + k * window_s;
    const auto one =
        chances_of(network.event(start_s, start_s + window_s, RecordingKind::kChildrensSensor));
    for (std::size_t i = 0; i < one.size(); ++i) breaths[i] += one[i] / num;
  }
  const auto child = chances_of(network.record(RecordingKind::kChildrensSensor));
  const auto adult = chances_of(network.record(RecordingKind::kElectronicStethoscope));
  RecordEvidence piece{};
  for (std::size_t i = 0; i < 3; ++i)
    piece[i] = breaths[i], piece[3 + i] = child[i], piece[6 + i] = adult[i];
  const std::vector<float> logits = network.frame_logits();
  piece[9] = peak_of(logits, kContinuous, network.num_frames());
  piece[10] = peak_of(logits, kCrackle, network.num_frames());
  for (std::size_t i = 11; i < kNumRecordEvidence; ++i)
    piece[i] = static_cast<double>(context.whole[feature_index(record_evidence_names()[i])]);
  for (std::size_t i = 0; i < kNumRecordEvidence; ++i) sum_[i] += weight * piece[i];
  weight_ += weight;
}

RecordEvidence EvidenceMeter::evidence() const {
  RecordEvidence out = sum_;
  for (double& v : out) v /= std::max(1e-9, weight_);
  for (std::size_t i = 0; i < kNumChances; ++i) out[i] = log_odds(out[i]);
  return out;
}

EventEvidence event_evidence(const Network& network, const FeatureVector& features, double start_s,
                             double end_s, double clip_on) {
  EventEvidence out{};
  for (std::size_t i = 0; i < 6; ++i)
    out[i] = static_cast<double>(features[feature_index(event_evidence_names()[i])]);
  out[1] = std::log(out[1] + 0.5);  // the first crackle tells more than the tenth
  const std::vector<float> logits = network.frame_logits();
  const std::size_t length = network.num_frames();
  const auto frame = [&](double s) {
    return static_cast<std::size_t>(std::clamp(
        s / kFrameLength_s, 0.0, static_cast<double>(std::max<std::size_t>(1, length) - 1)));
  };
  double top = -30.0;
  if (length > 0)
    for (std::size_t t = frame(start_s); t <= frame(end_s); ++t)
      top = std::max(top, static_cast<double>(logits[kContinuous * length + t]));
  out[6] = top;
  out[7] = clip_on;
  return out;
}

}  // namespace phren::measurement
