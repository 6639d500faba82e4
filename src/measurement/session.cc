#include "measurement/session.h"

#include <algorithm>
#include <cmath>

#include "measurement/decide.h"
#include "measurement/fast_math.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kWorkRate = 4000;
// What is measured at once: 15.36 s for the network, which was trained on such; more without it.
constexpr std::size_t kPiece = 61440, kFastPiece = 240000;
constexpr std::size_t kLongest = 20 * kWorkRate;  // a recording up to this is one piece
constexpr std::size_t kContext = 5120;            // 1.28 s on each side, measured twice

void add_trace(const Analysis& a, std::size_t first, std::size_t end, BreathTrace& trace) {
  for (std::size_t t = first; t < std::min(end, a.num_frames); ++t) {
    trace.broadband_db.push_back(a.broadband_db[t]);
    const float* row = a.short_power.data() + t * kShortBins;
    std::array<float, kNumBands> levels{};
    for (std::size_t b = 0; b < kNumBands; ++b) {
      float sum = 0.0f;
      const auto low = static_cast<std::size_t>(kBandEdges_hz[b] / kShortBin_hz + 0.5);
      const auto high = static_cast<std::size_t>(kBandEdges_hz[b + 1] / kShortBin_hz + 0.5);
      for (std::size_t k = low; k < high; ++k) sum += row[k];
      levels[b] = power_db(sum / 128.0f);  // power of the band re full scale
    }
    trace.band_db.push_back(levels);
  }
}

}  // namespace

Session::Session(Models& models, Analyser& analyser, WorkRate rate, const MeasureOptions& options)
    : models_(&models), analyser_(&analyser), rate_(std::move(rate)), options_(&options) {
  out_.given_events.resize(options.given_s.size());
}

Result<Session> Session::make(Models& models, Analyser& analyser, double sample_rate_hz,
                              const MeasureOptions& options) {
  auto rate = TRY(WorkRate::make(sample_rate_hz));
  Session session(models, analyser, std::move(rate), options);
  session.quality_ = QualityMeter(sample_rate_hz);
  session.out_.sample_rate_hz = sample_rate_hz;
  return session;
}

void Session::add(std::span<const float> native) {
  quality_.add_native(native);
  num_native_ += native.size();
  rate_.process(native, buffer_);
  measure_pieces();
}

void Session::measure_pieces() {
  const std::size_t piece = has_network() ? kPiece : kFastPiece;
  while (buffer_.size() > piece + kLongest - kPiece) {
    const std::size_t keep_from = kept_to_ - origin_, keep_to = piece - kContext;
    measure_piece(piece, keep_from, keep_to);
    const std::size_t dropped = keep_to - kContext;
    buffer_.erase(buffer_.begin(), buffer_.begin() + static_cast<std::ptrdiff_t>(dropped));
    origin_ += dropped;
  }
}

void Session::measure_piece(std::size_t size, std::size_t keep_from, std::size_t keep_to) {
  const Analysis& a = analyser_->analyse({buffer_.data(), size});
  const PieceContext context = context_of(a);
  const double origin_s = static_cast<double>(origin_) / kWorkRate_hz;
  const double from_s = static_cast<double>(keep_from) / kWorkRate_hz;
  const double to_s = static_cast<double>(keep_to) / kWorkRate_hz;
  add_trace(a, keep_from / kHop, (keep_to + kHop - 1) / kHop, breaths_.trace());
  breaths_.measure_when_long();
  sound_.add(a, keep_from / kHop, (keep_to + kHop - 1) / kHop);
  kind_ = models_->decision.kind.probabilities(sound_.statistics());
  clip_on_ = models_->decision.clip_on.probability(sound_.floor_statistics());
  quality_.add_piece(a, keep_from / kHop, (keep_to + kHop - 1) / kHop);
  keep_findings(context, from_s, to_s);
  if (!options_->is_fast && options_->sink == nullptr) keep_whitened(a, from_s, to_s);

  if (has_network()) {
    models_->network->run(a);
    evidence_.add(*models_->network, context, from_s, to_s);
  }
  std::vector<Event> events;
  for (const auto& [start_s, end_s] : find_breaths(a)) {
    const double centre_s = 0.5 * (start_s + end_s);
    if (centre_s < from_s || centre_s >= to_s) continue;
    Event event;
    event.start_s = start_s;
    event.end_s = end_s;
    events.push_back(event);
  }
  std::vector<std::size_t> given;  // indices of those that belong here
  for (std::size_t g = 0; g < options_->given_s.size(); ++g) {
    const auto& [start_s, end_s] = options_->given_s[g];
    const double centre_s = 0.5 * (start_s + end_s) - origin_s;
    const bool is_last = keep_to == size;
    if (centre_s < from_s || (centre_s >= to_s && !is_last)) continue;
    Event event;
    event.start_s = start_s - origin_s;
    event.end_s = end_s - origin_s;
    events.push_back(event);
    given.push_back(g);
  }
  for (Event& event : events) event.features = features_of(a, context, event.start_s, event.end_s);
  label(events);
  if (!options_->is_fast) explain(events);
  for (Event& event : events) {
    event.start_s += origin_s;
    event.end_s += origin_s;
    measure_inside(event);
  }
  for (std::size_t g = 0; g < given.size(); ++g)
    out_.given_events[given[g]] = events[events.size() - given.size() + g];
  events.resize(events.size() - given.size());
  keep_events(events);

  const std::array<FeatureVector, 1> whole{context.whole};
  const double weight = to_s - from_s;
  poor_sum_ += weight * static_cast<double>(models_->poor.probabilities(whole).front());
  weight_sum_ += weight;
  if (has_network()) {
    for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
      const RecordProbabilities head = models_->network->record(static_cast<RecordingKind>(k));
      for (std::size_t c = 0; c < kNumRecordLabels; ++c) head_sum_[k][c] += weight * head[c];
    }
  }
  kept_to_ = origin_ + keep_to;
}

void Session::keep_events(const std::vector<Event>& events) {
  for (const Event& event : events) {
    summary_.add(event);
    if (options_->sink != nullptr) options_->sink->take(event);
  }
  if (options_->sink == nullptr)
    out_.events.insert(out_.events.end(), events.begin(), events.end());
}

void Session::keep_findings(const PieceContext& context, double from_s, double to_s) {
  const double origin_s = static_cast<double>(origin_) / kWorkRate_hz;
  if (options_->sink != nullptr) {  // only what an event of this piece may still hold is kept
    std::erase_if(out_.tracks, [&](const TonalTrack& t) { return t.end_s < origin_s; });
    std::erase_if(out_.crackles, [&](const Crackle& c) { return c.at_s < origin_s; });
  }
  for (TonalTrack track : context.tracks) {
    const double centre_s = 0.5 * (track.start_s + track.end_s);
    if (centre_s < from_s || centre_s >= to_s) continue;
    track.start_s += origin_s;
    track.end_s += origin_s;
    out_.tracks.push_back(track);
    if (options_->sink != nullptr) options_->sink->take(track);
  }
  for (Crackle crackle : context.crackles) {
    if (crackle.at_s < from_s || crackle.at_s >= to_s) continue;
    crackle.at_s += origin_s;
    out_.crackles.push_back(crackle);
    if (options_->sink != nullptr) options_->sink->take(crackle);
  }
}

void Session::keep_whitened(const Analysis& a, double from_s, double to_s) {
  for (Crackle crackle : whitened_.find(a)) {
    if (crackle.at_s < from_s || crackle.at_s >= to_s) continue;
    crackle.at_s += static_cast<double>(origin_) / kWorkRate_hz;
    out_.whitened_crackles.push_back(crackle);
  }
}

std::vector<std::pair<double, double>> Session::find_breaths(const Analysis& a) const {
  if (has_network()) {
    const Network& network = *models_->network;
    return models_->decision.segments.find(network.frame_logits(), network.num_frames(),
                                           network.events());
  }
  return models_->decision.breath.find(a.broadband_db);
}

void Session::label(std::vector<Event>& events) const {
  std::vector<FeatureVector> rows;
  for (const Event& event : events) rows.push_back(event.features);
  const std::vector<float> trees = models_->events.probabilities(rows);
  for (std::size_t e = 0; e < events.size(); ++e) {
    Event& event = events[e];
    EventProbabilities by_trees{};
    for (std::size_t c = 0; c < kNumEventLabels; ++c)
      by_trees[c] = static_cast<double>(trees[e * kNumEventLabels + c]);
    if (has_network())
      event.evidence =
          event_evidence(*models_->network, event.features, event.start_s, event.end_s, clip_on_);
    EventProbabilities weighed{};
    event.probabilities.fill(0.0);
    for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
      const KindWeighing& weighing = models_->decision.kinds[k];
      std::vector<double> p, chance;
      if (has_network()) {
        const EventProbabilities by_network =
            models_->network->event(event.start_s, event.end_s, static_cast<RecordingKind>(k));
        p = weighing.event_judge.is_there()
                ? weighing.event_by_judge(event.evidence, by_network)
                : weighing.event.weigh(
                      std::array<std::span<const double>, 2>{by_network, by_trees});
        chance = weighing.event_chance.apply(p);
      } else {
        p = weighing.event_fast.weigh(std::array<std::span<const double>, 1>{by_trees});
        chance = p;
      }
      for (std::size_t c = 0; c < kNumEventLabels; ++c) {
        weighed[c] += kind_[k] * p[c];
        event.probabilities[c] += kind_[k] * chance[c];
      }
    }
    event.label = most_likely(weighed);
  }
}

void Session::explain(std::vector<Event>& events) const {
  std::vector<FeatureVector> rows;
  std::vector<std::size_t> towards, index;
  for (std::size_t e = 0; e < events.size(); ++e) {
    if (events[e].label == EventLabel::kNormal) continue;
    rows.push_back(events[e].features);
    towards.push_back(static_cast<std::size_t>(events[e].label));
    index.push_back(e);
  }
  const auto reasons = models_->events.reasons(rows, towards);
  for (std::size_t i = 0; i < index.size(); ++i) events[index[i]].because = reasons[i];
}

void Session::measure_inside(Event& event) const {
  const double duration_s = event.end_s - event.start_s;
  double longest_s = 0.0, covered_s = 0.0;
  for (const TonalTrack& track : out_.tracks) {
    const double inside_s =
        std::min(event.end_s, track.end_s) - std::max(event.start_s, track.start_s);
    if (inside_s <= 0.0) continue;
    covered_s += inside_s;
    if (inside_s > longest_s) longest_s = inside_s, event.wheeze_hz = track.mean_hz;
  }
  event.tonal_share = std::min(1.0, covered_s / std::max(1e-3, duration_s));
  std::vector<double> widths;
  for (const Crackle& crackle : out_.crackles)
    if (crackle.at_s >= event.start_s && crackle.at_s < event.end_s)
      widths.push_back(crackle.two_cycle_ms);
  event.num_crackles = static_cast<int>(widths.size());
  if (!widths.empty()) {
    std::sort(widths.begin(), widths.end());
    event.crackle_two_cycle_ms = widths[widths.size() / 2];
  }
}

RecordingMeasurement Session::finish() {
  rate_.finish(buffer_);
  measure_pieces();
  // The end of a long recording is no longer than any other piece, so that memory stays flat: first
  // a piece as always, then one that ends with the recording.
  const std::size_t piece = has_network() ? kPiece : kFastPiece;
  if (origin_ > 0 && buffer_.size() > piece) {
    measure_piece(piece, kept_to_ - origin_, piece - kContext);
    const std::size_t dropped = (buffer_.size() - piece + kHop - 1) / kHop * kHop;
    buffer_.erase(buffer_.begin(), buffer_.begin() + static_cast<std::ptrdiff_t>(dropped));
    origin_ += dropped;
  }
  if (!buffer_.empty()) measure_piece(buffer_.size(), kept_to_ - origin_, buffer_.size());
  out_.duration_s = static_cast<double>(num_native_) / out_.sample_rate_hz;
  out_.rms_dbfs = quality_.rms_dbfs();
  out_.breathing = breaths_.finish();
  decide();
  if (options_->sink != nullptr) {
    out_.tracks.clear();
    out_.crackles.clear();
  }
  return std::move(out_);
}

std::vector<double> Session::record_of(std::size_t kind, const RecordProbabilities& rule) const {
  const KindWeighing& weighing = models_->decision.kinds[kind];
  if (!has_network())
    return weighing.record_fast.weigh(std::array<std::span<const double>, 1>{rule});
  RecordProbabilities head = head_sum_[kind];
  for (double& v : head) v /= std::max(1e-9, weight_sum_);
  if (!weighing.record_judge.is_there())
    return weighing.record.weigh(std::array<std::span<const double>, 2>{head, rule});
  return weighing.record_by_judge(out_.evidence,
                                  head[static_cast<std::size_t>(RecordLabel::kPoorQuality)]);
}

void Session::decide() {
  const RecordProbabilities rule =
      record_probabilities(summary_, poor_sum_ / std::max(1e-9, weight_sum_));
  if (has_network()) out_.evidence = evidence_.evidence();
  out_.kind = kind_;
  out_.clip_on = clip_on_;
  const FloorStatistics floor = sound_.floor_statistics();
  out_.floor.assign(floor.begin(), floor.end());
  out_.is_familiar =
      models_->decision.kind.distance(sound_.statistics()) <= models_->decision.kind.farthest;
  RecordProbabilities weighed{};
  out_.probabilities.fill(0.0);
  double least_in_set = 0.0;
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
    const Calibration& calibration = models_->decision.kinds[k].record_chance;
    const std::vector<double> p = record_of(k, rule);
    const std::vector<double> chance = has_network() ? calibration.apply(p) : p;
    for (std::size_t c = 0; c < kNumRecordLabels; ++c) {
      weighed[c] += kind_[k] * p[c];
      out_.probabilities[c] += kind_[k] * chance[c];
    }
    least_in_set += kind_[k] * calibration.least_in_set;
  }
  out_.label = most_likely(weighed);
  const double poor = weighed[static_cast<std::size_t>(RecordLabel::kPoorQuality)];
  out_.quality = quality_.result(out_.duration_s, out_.breathing, poor);
  if (has_network()) {
    out_.verdict = verdict_of(out_.probabilities, least_in_set, out_.is_familiar,
                              out_.quality.can_be_labelled());
  } else {
    out_.verdict.doubt = Doubt::kFast;
  }
}

}  // namespace phren::measurement
