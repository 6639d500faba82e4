// One recording on its way through the measurer; private to this room.
#pragma once

#include <span>
#include <vector>

#include "measurement/analysis.h"
#include "measurement/breath.h"
#include "measurement/decide.h"
#include "measurement/decision.h"
#include "measurement/evidence.h"
#include "measurement/features.h"
#include "measurement/measure.h"
#include "measurement/network.h"
#include "measurement/quality.h"
#include "measurement/sound_kind.h"
#include "measurement/trees.h"
#include "measurement/whitened.h"
#include "measurement/work_rate.h"

namespace phren::measurement {

struct Models {
  Trees events, poor;
  Decision decision;
  std::optional<Network> network;  // without it every measurement is a fast one
};

class Session {
 public:
  static Result<Session> make(Models& models, Analyser& analyser, double sample_rate_hz,
                              const MeasureOptions& options);
  void add(std::span<const float> native);
  RecordingMeasurement finish();

 private:
  Session(Models& models, Analyser& analyser, WorkRate rate, const MeasureOptions& options);
  void measure_pieces();
  // Measures buffer_[0, size) and keeps what is centred in [keep_from, keep_to).
  void measure_piece(std::size_t size, std::size_t keep_from, std::size_t keep_to);
  void keep_findings(const PieceContext& context, double from_s, double to_s);
  void keep_whitened(const Analysis& analysis, double from_s, double to_s);
  void keep_events(const std::vector<Event>& events);
  // Where the breaths of a piece are, start and end in seconds from its start.
  std::vector<std::pair<double, double>> find_breaths(const Analysis& analysis) const;
  // Labels events, whose times are still those of the piece.
  void label(std::vector<Event>& events) const;
  void explain(std::vector<Event>& events) const;
  void measure_inside(Event& event) const;
  void decide();
  std::vector<double> record_of(std::size_t kind, const RecordProbabilities& rule) const;

  bool has_network() const { return models_->network.has_value() && !options_->is_fast; }

  Models* models_;
  Analyser* analyser_;
  WorkRate rate_;
  const MeasureOptions* options_;
  std::vector<float> buffer_;
  std::size_t origin_ = 0;  // of buffer_, in samples at the work rate
  std::size_t kept_to_ = 0;
  std::size_t num_native_ = 0;
  BreathMeter breaths_;
  QualityMeter quality_;
  WhitenedCrackles whitened_;
  double poor_sum_ = 0.0, weight_sum_ = 0.0;  // means over pieces
  std::array<RecordProbabilities, kNumRecordingKinds> head_sum_{};
  SoundMeter sound_;
  EvidenceMeter evidence_;
  KindProbabilities kind_{};  // as heard so far
  double clip_on_ = 0.0;      // the same
  EventSummary summary_;
  RecordingMeasurement out_;
};

}  // namespace phren::measurement
