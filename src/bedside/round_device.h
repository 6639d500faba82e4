// One device of a round: the body that all share, and a chestpiece of its own. Fed with the shared lines and
// with how far they are complete, it never lives further than that; so every device lives the same body,
// whatever the network does, only sooner or later.
//
// Units:   steps of 1/128 s of the patient's time.
// Errors:  hear() refuses a line that leaves a gap, naming the number it waits for.
// Threads: an instance belongs to one thread. make_step() does not allocate but where a chestpiece is taken up.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "bedside/bedside.h"
#include "bedside/round.h"

namespace phren::bedside {

// Sum over everything that is shown of the body at a step, to be compared between devices.
struct StateSum {
  int take = 0;
  std::int64_t step = 0;
  std::uint64_t sum = 0;
};
std::uint64_t sum_of_state(const Bedside& bedside);
inline constexpr std::int64_t kSumEvery_steps = 10 * kStepsPerSecond;

class RoundDevice {
 public:
  static Result<RoundDevice> make(const Setup& setup, Seed seed, double sample_rate_hz);

  // ---- what comes from the server ----
  Status hear(const RoundLine& shared);  // one that was heard already is left out
  std::int64_t next_seq() const { return next_seq_; }
  // All lines before `step` of `take` are among those up to number `last_seq`. Left out while one of these is
  // still missing, and where more was allowed before.
  void allow(int take, std::int64_t step, std::int64_t last_seq);

  // ---- time ----
  int take() const { return take_; }
  std::int64_t step() const { return step_; }
  std::int64_t allowed() const { return allowed_; }
  bool may_step() const { return step_ < allowed_; }
  // REQUIRES: may_step(). The sound of it.
  std::span<const float> make_step();
  // Without sound up to `step`, or as far as is allowed; then the chestpiece is taken up there.
  void catch_up(std::int64_t step);
  // Everything lived again from the beginning, to where it stands now.
  void live_again();

  // ---- one's own ----
  // Done before the next step: gives the line to be kept (its number and person are the caller's).
  RoundLine own(const Deed& deed);

  std::optional<StateSum> take_sum();  // the last one since the call before
  // Where the chestpiece was taken up since the call before: the line to be kept. What the hand held on the
  // skin has to be put there again.
  std::optional<RoundLine> take_taken_up();
  Bedside& bedside() { return bedside_; }
  // Gets each step's sound as it was made; for tests and recordings.
  using OnStep = std::function<void(int take, std::int64_t step, std::span<const float> sound)>;
  void on_step(OnStep tap) { on_step_ = std::move(tap); }

 private:
  RoundDevice(Bedside bedside, patient::Patient fresh)
      : bedside_(std::move(bedside)), fresh_(std::move(fresh)) {}
  void do_shared();
  void count_step();
  void run_unheard(std::int64_t step);
  void begin_again();
  void take_up();

  Bedside bedside_;
  patient::Patient fresh_;        // at step 0
  std::vector<RoundLine> lived_;  // of the body, in this take
  std::size_t next_ = 0;          // of them
  std::vector<Deed> own_;         // to be done before the next step
  std::int64_t next_seq_ = 1, step_ = 0, allowed_ = 0;
  int take_ = 0;
  std::optional<StateSum> sum_;
  bool has_taken_up_ = false;
  OnStep on_step_;
};

}  // namespace phren::bedside
