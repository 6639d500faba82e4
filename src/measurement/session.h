// One recording on its way through the measurer; private to this room.
#pragma once

#include <span>
#include <vector>

#include "measurement/analysis.h"
#include "measurement/breath.h"
#include "measurement/features.h"
#include "measurement/measure.h"
#include "measurement/quality.h"
#include "measurement/trees.h"
#include "measurement/work_rate.h"

namespace phren::measurement {

struct Models {
  Trees events, poor;
};

class Session {
 public:
  static Result<Session> make(const Models& models, Analyser& analyser, double sample_rate_hz,
                              const MeasureOptions& options);
  void add(std::span<const float> native);
  RecordingMeasurement finish();

 private:
  Session(const Models& models, Analyser& analyser, WorkRate rate, const MeasureOptions& options);
  void measure_pieces();
  // Measures buffer_[0, size) and keeps what is centred in [keep_from, keep_to).
  void measure_piece(std::size_t size, std::size_t keep_from, std::size_t keep_to);
  void keep_findings(const PieceContext& context, double from_s, double to_s);
  void label(std::vector<Event>& events, std::span<const float> probabilities) const;
  void measure_inside(Event& event) const;

  const Models* models_;
  Analyser* analyser_;
  WorkRate rate_;
  const MeasureOptions* options_;
  std::vector<float> buffer_;
  std::size_t origin_ = 0;  // of buffer_, in samples at the work rate
  std::size_t kept_to_ = 0;
  std::size_t num_native_ = 0;
  BreathTrace trace_;
  QualityMeter quality_;
  double poor_sum_ = 0.0, poor_weight_ = 0.0;
  RecordingMeasurement out_;
};

}  // namespace phren::measurement
