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
  void add_native(std::span<const float> samples);  // at the file's own rate
  void add_piece(const Analysis& analysis, std::size_t first_frame, std::size_t end_frame);
  // The reasons found, worst first. `poor_probability` comes from the models.
  Quality result(double duration_s, const Breathing& breathing, double poor_probability) const;
  double rms_dbfs() const;

 private:
  double heart_modulation() const;
  std::size_t num_samples_ = 0, num_clipped_ = 0, run_ = 0;
  float previous_ = 0.0f;
  double energy_ = 0.0;
  std::vector<float> low_db_;  // 30-150 Hz, of the first minute: for the heart beat
  float last_low_db_ = 0.0f, before_last_low_db_ = 0.0f;
  std::size_t num_frames_ = 0, num_voiced_ = 0, num_thumps_ = 0;
  double flatness_sum_db_ = 0.0;
};

}  // namespace phren::measurement
