#include "measurement/features.h"

#include <algorithm>
#include <cmath>

#include "measurement/fast_math.h"
#include "measurement/feature_parts.h"
#include "measurement/tonal.h"
#include "measurement/transients.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kFirstRecordFeature = 96;

// Writes features one after another, so that the order is that of the calls.
class Writer {
 public:
  explicit Writer(FeatureVector& out) : out_(out) {}
  void add(double value) { out_[at_++] = std::isfinite(value) ? static_cast<float>(value) : 0.0f; }
  template <class Values>
  void add_all(const Values& values) {
    for (const auto value : values) add(static_cast<double>(value));
  }
  std::size_t count() const { return at_; }

 private:
  FeatureVector& out_;
  std::size_t at_ = 0;
};

double overlap(const TonalTrack& track, double start_s, double end_s) {
  return std::max(0.0, std::min(end_s, track.end_s) - std::max(start_s, track.start_s));
}

double track_share(const std::vector<TonalTrack>& tracks, double start_s, double end_s) {
  double covered = 0.0, up_to = start_s;  // tracks are in order of start; count overlaps once
  for (const TonalTrack& track : tracks) {
    covered += overlap(track, std::max(start_s, up_to), end_s);
    up_to = std::max(up_to, track.end_s);
  }
  return covered / std::max(1e-3, end_s - start_s);
}

void add_crackles(Writer& out, const PieceContext& context, double start_s, double end_s) {
  std::vector<double> height, interval, place, idw, two_cycle, ldw;
  double last_s = -1.0, fine = 0.0, highest = 0.0;
  for (const Crackle& c : context.crackles) {
    if (c.at_s < start_s || c.at_s >= end_s) continue;
    height.push_back(c.height_db);
    highest = std::max(highest, c.height_db);
    place.push_back((c.at_s - start_s) / (end_s - start_s));
    idw.push_back(c.initial_deflection_ms);
    two_cycle.push_back(c.two_cycle_ms);
    ldw.push_back(c.largest_deflection_ms);
    fine += c.is_fine() ? 1.0 : 0.0;
    if (last_s >= 0.0) interval.push_back(1000.0 * (c.at_s - last_s));
    last_s = c.at_s;
  }
  const auto count = static_cast<double>(height.size());
  out.add(count);
  out.add(count / (end_s - start_s));
  out.add(mean_of(height));
  out.add(highest);
  out.add(middle_of(interval));
  out.add(place.empty() ? 0.5 : mean_of(place));
  out.add(middle_of(idw));
  out.add(middle_of(two_cycle));
  out.add(middle_of(ldw));
  out.add(count > 0.0 ? fine / count : 0.0);
}

void add_tracks(Writer& out, const PieceContext& context, double start_s, double end_s) {
  out.add(track_share(context.tracks, start_s, end_s));
  double longest = 0.0, hz = 0.0;
  for (const TonalTrack& track : context.tracks)
    if (overlap(track, start_s, end_s) > longest) {
      longest = overlap(track, start_s, end_s);
      hz = track.mean_hz;
    }
  out.add(hz);
}

}  // namespace

FeatureVector features_of(const Analysis& a, const PieceContext& context, double start_s,
                          double end_s) {
  FeatureVector features{};
  Writer out(features);
  start_s = std::clamp(start_s, 0.0, std::max(0.0, a.duration_s() - 0.06));
  end_s = std::clamp(end_s, start_s + 0.06, std::max(start_s + 0.06, a.duration_s()));
  const Stretch s = stretch_of(a, start_s, end_s);
  if (s.num_frames == 0) return features;
  const Bands bands = measure_bands(s);
  out.add(end_s - start_s);
  out.add(s.level_db - context.level_db);
  out.add(bands.share_below_60hz);
  out.add_all(bands.level_db);
  out.add_all(bands.spread_db);
  out.add_all(bands.peak_db);
  out.add_all(measure_shape(s));
  for (std::size_t range = 0; range < kToneRanges_hz.size(); ++range)
    out.add_all(measure_tones(s, range));
  out.add_all(measure_ridge(s, 80.0, 250.0));
  out.add_all(measure_ridge(s, 250.0, 1300.0));
  out.add_all(measure_regularity(s));
  out.add_all(measure_peakedness(s));
  add_crackles(out, context, start_s, end_s);
  out.add_all(measure_envelope(s));
  add_tracks(out, context, start_s, end_s);
  for (std::size_t i = kFirstRecordFeature; i < kNumFeatures; ++i)
    out.add(static_cast<double>(context.whole[i]));
  return features;
}

PieceContext context_of(const Analysis& a) {
  PieceContext context;
  context.tracks = find_tracks(a);
  context.crackles = find_crackles(a);
  std::vector<double> levels(a.broadband_db.begin(), a.broadband_db.end());
  context.level_db = middle_of(levels);
  if (a.num_frames == 0) return context;
  std::sort(levels.begin(), levels.end());
  const auto at = [&](double q) {
    return levels[static_cast<std::size_t>(q * static_cast<double>(levels.size() - 1))];
  };
  // What describes the recording is what describes its whole as a stretch.
  FeatureVector& w = context.whole;
  w = features_of(a, context, 0.0, a.duration_s());
  constexpr std::size_t kTone80Share12 = 49, kTone250Share12 = 53, kTone600Share12 = 57,
                        kCentroid = 33, kKurtosisAbove200 = 71, kShare9 = 75, kCrackleRate = 78,
                        kTrackShare = 94;
  const std::array<float, kNumFeatures - kFirstRecordFeature> record{
      w[kTone80Share12],    std::max(w[kTone250Share12], w[kTone600Share12]),
      w[kCrackleRate],      w[kShare9],
      w[kCentroid],         static_cast<float>(at(0.9) - at(0.1)),
      w[kKurtosisAbove200], w[kTrackShare]};
  std::copy(record.begin(), record.end(), w.begin() + kFirstRecordFeature);
  return context;
}

}  // namespace phren::measurement
