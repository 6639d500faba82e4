#include "measurement/crackle_weighing.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "measurement/sound_kind.h"

namespace phren::measurement {
namespace {

// Noise alone makes up to about one short rise a second (whitened.h). Asked only where nothing but
// the count is gone by; a weighing has the count in it.
constexpr double kEventsPerSecond = 1.4;
constexpr std::size_t kFewestEvents = 4;

// Contact's loudest events are 24 dB and more over the breath, a breath's crackles lie within about
// 6 dB of each other; clusters of contact have gaps of 30 ms.
constexpr double kLoud_db = 18.0, kBout_s = 0.06;
// A recording without any loud event has little contact in it: by so much fewer log-odds will do.
constexpr double kNoneLoud = 0.5;
// Where every band from 62 to 469 Hz falls silent in the pauses. Real recordings lie at 9 to 11 dB.
constexpr double kSilentPauses_db = 15.0;
constexpr std::size_t kFirstBand = 1, kEndBand = 9;

// Log-odds of crackles against plain breathing and against all else: weights of the networks'
// log-odds and of the logarithm of soft events a second, and what stands alone. Fitted, but for a
// margin of 1 in the second, which spares crackles beside a wheeze.
struct Form {
  double network, soft, alone;
  double operator()(double said, double per_s) const {
    return network * said + soft * std::log(per_s + 0.1) + alone;
  }
};
constexpr Form kAgainstBreath{1.05, 1.36, -1.0};
constexpr Form kAgainstAll{1.2, 1.0, 1.7};
// Places in RecordEvidence (record_evidence_names()).
constexpr std::size_t kBreathsCrackle = 1, kBreathsNormal = 2;

// How far the level falls below its median in the quietest twentieth, least of the bands.
double depth_of_pauses_db(const std::vector<double>& floor) {
  if (floor.size() < 2 * kNumSoundBands) return 0.0;
  double least = 1e9;
  for (std::size_t b = kFirstBand; b < kEndBand; ++b)
    least = std::min(least, floor[kNumSoundBands + b] - floor[b]);
  return least;
}

bool is_loud(const Crackle& c) {
  return c.height_db >= kLoud_db;
}

// Soft events that no loud one is near. Events are in order of time.
std::vector<Crackle> soft_events(const std::vector<Crackle>& all) {
  std::vector<double> loud_s;
  for (const Crackle& c : all)
    if (is_loud(c)) loud_s.push_back(c.at_s);
  std::vector<Crackle> out;
  std::copy_if(all.begin(), all.end(), std::back_inserter(out), [&](const Crackle& c) {
    const auto from = std::lower_bound(loud_s.begin(), loud_s.end(), c.at_s - kBout_s);
    return !is_loud(c) && (from == loud_s.end() || *from >= c.at_s + kBout_s);
  });
  return out;
}

}  // namespace

CrackleWeighing weigh_crackles(const RecordingMeasurement& m) {
  CrackleWeighing out;
  const std::vector<Crackle>& all = m.whitened_crackles;
  const double seconds = std::max(0.5, m.duration_s);
  const double per_s = static_cast<double>(all.size()) / seconds;
  if (all.size() < kFewestEvents) return out;
  if (per_s >= kEventsPerSecond && depth_of_pauses_db(m.floor) > kSilentPauses_db) {
    out.are_crackles = true;
    out.confidence = std::clamp(0.5 + 0.5 * (per_s - kEventsPerSecond), 0.4, 0.95);
    out.counted = all;
    return out;
  }
  out.counted = soft_events(all);
  const double soft_per_s = static_cast<double>(out.counted.size()) / seconds;
  double log_odds = std::min(kAgainstBreath(-m.evidence[kBreathsNormal], soft_per_s),
                             kAgainstAll(m.evidence[kBreathsCrackle], soft_per_s));
  const bool is_none_loud = std::none_of(all.begin(), all.end(), is_loud);
  if (is_none_loud) log_odds += kNoneLoud;
  out.are_crackles = log_odds > 0.0;
  out.confidence = std::clamp(1.0 / (1.0 + std::exp(-log_odds)), 0.4, 0.95);
  return out;
}

}  // namespace phren::measurement
