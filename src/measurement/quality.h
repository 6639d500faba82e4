// Is this recording good enough to teach from, and if not, why not.
//
// Units:   levels in dB re full scale. Errors: none.
// Source:  thresholds of our own, set on the open recordings (docs/validation/measurement.md).
#pragma once

#include <span>

#include "measurement/analysis.h"
#include "measurement/breath.h"

namespace phren::measurement {

// Collects what the reasons need while the recording streams by.
class QualityMeter {
 public:
  explicit QualityMeter(double sample_rate_hz = kWorkRate_hz);
  void add_native(std::span<const float> samples);  // at the file's own rate
  void add_piece(const Analysis& analysis, std::size_t first_frame, std::size_t end_frame);
  // The reasons found, worst first. `poor_probability` comes from the models.
  Quality result(double duration_s, const Breathing& breathing, double poor_probability) const;
  double rms_dbfs() const;

 private:
  struct Levels {  // of the frames of up to a minute, so that memory stays flat
    std::vector<double> low_db, mid_db, high_db;
  };
  static bool has_contact(const Levels& levels, bool is_clipped);
  double heart_modulation() const;
  bool is_clipped() const;
  bool is_speaking() const;
  void watch_gaps(std::span<const float> samples);

  double sample_rate_hz_;
  std::size_t num_samples_ = 0, num_clipped_ = 0, run_ = 0;
  float previous_ = 0.0f;
  // Samples in a row that repeat the one before, samples that do not, and gaps.
  std::size_t num_stuck_ = 0, num_running_ = 0, num_gaps_ = 0;
  float last_ = 0.0f, step_in_ = 0.0f;  // the latest sample; the step before the first stuck one
  double energy_ = 0.0;
  std::vector<float> low_db_;  // 30-150 Hz, of the first minute: for the heart beat
  Levels levels_;
  bool has_contact_ = false, has_voice_ = false;  // in what is no longer kept
  std::vector<std::size_t> pitches_;  // of the latest frames, in a ring; 0 without a voice
  std::size_t num_voiced_ = 0, num_frames_ = 0;
  double flatness_sum_db_ = 0.0;
};

}  // namespace phren::measurement
