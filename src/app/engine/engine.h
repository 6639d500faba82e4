// A patient and a chestpiece running together, a frame at a time: what the browser plays and what a
// replay renders again.
//
// Shapes:  render() fills mono frames; the patient moves by exactly the time they last. The patient
//          steps at its own rate and sound is made a patient step at a time (at most 8 ms ahead),
//          so any way of splitting the frames into calls gives the same samples.
// Units:   as in patient/types.h and acoustics/types.h.
// Errors:  make() says what is wrong; everything after it cannot fail and never allocates.
// Threads: an instance belongs to one thread.
#pragma once

#include <array>
#include <memory>
#include <span>

#include "acoustics/chestpiece.h"
#include "patient/patient.h"

namespace phren::app {

class Engine {
 public:
  // kInvalidArgument naming the field when rate or patient are out of range.
  static Result<Engine> make(const patient::PatientConfig& config, Seed seed,
                             double sample_rate_hz);

  void render(std::span<float> out) noexcept;
  // Lets time pass unheard, in whole patient steps, up to the first one at or after `time_s`. The
  // chestpiece goes on hearing, so what follows is what would have followed in real time.
  void run_to(double time_s) noexcept;
  // The same with the chestpiece deaf: cheaper, where nothing was placed yet.
  void skip(double seconds) noexcept;

  bool act(const patient::Action& action) noexcept { return patient_.act(action); }
  acoustics::Chestpiece& chestpiece() noexcept { return piece_; }
  const patient::Patient& patient() const noexcept { return patient_; }
  // The state whose sound is being played: taken at the last patient step.
  const patient::Snapshot& now() const noexcept { return now_; }
  acoustics::Chestpiece::Audibility audibility() const noexcept { return piece_.audibility(); }
  double sample_rate_hz() const noexcept { return sample_rate_hz_; }

 private:
  static constexpr std::size_t kLongestStep_frames = 4096;
  Engine(patient::Patient patient, acoustics::Chestpiece piece, double sample_rate_hz);
  void next_step() noexcept;

  patient::Patient patient_;
  acoustics::Chestpiece piece_;
  patient::Snapshot now_;
  double sample_rate_hz_;
  double first_s_ = 0.0;    // patient time of frame 0
  std::uint64_t made_ = 0;  // frames since then
  std::array<float, kLongestStep_frames> block_{};
  std::size_t block_size_ = 0, block_at_ = 0;
};

}  // namespace phren::app
