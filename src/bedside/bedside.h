// A patient and whoever examines: body, chestpiece, clothing and surroundings together. What the page
// plays, what a recording takes and what a replay lives again is this one loop.
//
// Shapes:  render() fills mono frames; the patient moves by exactly the time they last. Sound is made
//          a patient step at a time (at most 8 ms ahead), so any way of splitting the frames into
//          calls gives the same samples.
// Units:   time is the patient's, from 0 where the encounter begins.
// Errors:  make() and follow() say what is wrong; everything else cannot fail and never allocates.
// Threads: an instance belongs to one thread.
#pragma once

#include <array>
#include <span>
#include <string>
#include <vector>

#include "bedside/covering.h"
#include "bedside/log.h"
#include "bedside/setup.h"
#include "bedside/stethoscope.h"
#include "patient/patient.h"

namespace phren::bedside {

class Bedside {
 public:
  // kInvalidArgument naming the field when rate or patient are out of range.
  static Result<Bedside> make(const Setup& setup, Seed seed, double sample_rate_hz);
  // The same around a body that lives already; nothing can be given there.
  static Result<Bedside> around(patient::Patient body, const Circumstances& around, Seed seed,
                                double sample_rate_hz, std::vector<AtHand> at_hand = {});

  // ---- deeds ----
  // A treatment or an instrument that is not here is an error.
  Status check(const Deed& deed) const;
  void perform(const Deed& deed) noexcept;  // now, at the step that was made last
  // Deeds still to come, in the order of their times: each is done at the first step at or after its
  // time, as if a hand did it then.
  Status follow(std::vector<EncounterAction> to_come);

  // ---- time ----
  // One patient step and the sound of it.
  std::span<const float> step() noexcept;
  void render(std::span<float> out) noexcept;
  // Lets time pass unheard, in whole steps, up to the first one at or after `time_s`. The chestpiece
  // goes on hearing, so what follows is what would have followed in real time.
  void run_to(double time_s) noexcept;
  // The same with the chestpiece deaf: cheaper, where nothing was placed yet.
  void skip(double seconds) noexcept;

  // ---- several who listen to one body (round_device.h) ----
  // One step with the chestpiece deaf; what is to come is done. take_up() before the next step().
  void step_unheard() noexcept;
  // A fresh chestpiece, off the skin, from now on. Allocates.
  void take_up() noexcept;
  // Another time of the same body: as it was when `body` was copied, in what it came in.
  void begin_again(const patient::Patient& body) noexcept;

  // ---- truth ----
  std::size_t drain(std::span<acoustics::TruthEvent> out) noexcept {
    return ears_.chestpiece().drain_truth(out);
  }
  void finish() noexcept { ears_.chestpiece().finish_truth(); }

  double time_s() const noexcept { return body_.time_s(); }
  double sample_rate_hz() const noexcept { return sample_rate_hz_; }
  const patient::Patient& patient() const noexcept { return body_; }
  // The state whose sound is being played: taken at the last step.
  const patient::Snapshot& now() const noexcept { return now_; }
  acoustics::Chestpiece& chestpiece() noexcept { return ears_.chestpiece(); }
  const acoustics::Chestpiece& chestpiece() const noexcept { return ears_.chestpiece(); }
  const Listening& listening() const noexcept { return ears_.listening(); }
  // What looking, feeling, tapping and asking would find now: what is told stands before what the
  // body shows. Allocates.
  std::vector<exam::Finding> findings() const;

 private:
  static constexpr std::size_t kLongestStep_frames = 4096;
  Bedside(patient::Patient body, Stethoscope ears, const Circumstances& around, Seed seed,
          double sample_rate_hz);
  int treatment(std::string_view id) const noexcept;  // -1 if it cannot be given
  void do_what_is_due() noexcept;

  patient::Patient body_;
  Stethoscope ears_;
  Circumstances around_;
  Seed seed_;
  Covering covering_;
  std::vector<std::string> treatment_ids_;
  std::vector<exam::Finding> told_;
  std::vector<EncounterAction> to_come_;
  std::size_t next_ = 0;  // of them
  patient::Snapshot now_;
  double sample_rate_hz_;
  double first_s_;          // time of frame 0
  std::uint64_t made_ = 0;  // frames since then
  std::array<float, kLongestStep_frames> block_{};
  std::size_t block_size_ = 0, block_at_ = 0;
};

// `told` stands before what the body shows.
std::vector<exam::Finding> findings_at_bedside(const patient::Patient& body,
                                               const std::vector<exam::Finding>& told);

}  // namespace phren::bedside
