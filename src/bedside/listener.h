// Listens to one place for a while and says what is heard there: the breath against the same body in health, and each
// added sound by what reached the place and what hid it.
//
// Units:   patient time in seconds; levels as in heard.h.
// Errors:  HealthyTwin::make() reports what patient and chestpiece report; the rest cannot fail.
// Threads: an instance belongs to one thread.
// Cost:    the twin lives a minute once (a few ms) and then costs about 5 s of sound at 4096 Hz for each new place.
// Limits:  the twin sits or lies as the case begins; a change of posture later is not followed.
#pragma once

#include <map>
#include <tuple>
#include <vector>

#include "acoustics/chestpiece.h"
#include "base/random.h"
#include "base/result.h"
#include "bedside/heard.h"
#include "patient/config.h"
#include "patient/patient.h"

namespace phren::bedside {

// Power of breath sound while a breath goes in. Whole breaths count; part of one only where there is no whole one.
// Coughs, words, held and forced breaths are left out.
class BreathMeter {
 public:
  void feed(const patient::Snapshot& now, patient::Manoeuvre manoeuvre,
            const acoustics::Chestpiece::Audibility& heard, double step_s) noexcept;
  std::optional<double> inspired_power() const noexcept;
  bool is_deep() const noexcept { return 2.0 * deep_s_ > inspired_s_; }
  bool is_audible() const noexcept { return audible_s_ > 0.0; }
  // No breath came in for so long that there is none.
  bool is_still() const noexcept { return inspired_s_ <= 0.0 && counted_s_ >= kStill_s; }
  std::optional<double> out_over_in() const noexcept;  // of whole phases

 private:
  static constexpr double kStill_s = 8.0;
  struct Sum {
    double power = 0.0, seconds = 0.0;
  };
  void close_phase(exam::Phase phase) noexcept;
  Sum whole_, part_, open_;
  bool is_open_whole_ = false, is_spoiled_ = false;
  exam::Phase phase_ = exam::Phase::kPause;
  double phase_s_ = 0.0, deep_s_ = 0.0, inspired_s_ = 0.0, audible_s_ = 0.0;
  double counted_s_ = 0.0;
  double in_s_ = 0.0, out_s_ = 0.0;  // of whole phases
  int ins_ = 0, outs_ = 0;
};

// The body of a case without its conditions, breathing quietly or deeply.
class HealthyTwin {
 public:
  static Result<HealthyTwin> make(const patient::PatientConfig& config, Seed seed);
  // Mean square of breath sound there through a breath in; remembered for each place.
  double inspired_power(const exam::TorsoPoint& point, bool is_deep);

 private:
  HealthyTwin(const patient::Person& person, Seed seed, double step_s)
      : person_(person), seed_(seed), step_s_(step_s) {}
  patient::Person person_;
  Seed seed_;
  double step_s_;
  std::vector<patient::Snapshot> quiet_, deep_;  // breaths in, each from a little before it begins
  std::map<std::tuple<int, double, double, bool>, double> known_;
};

class PlaceListener {
 public:
  // Once for each patient step, with what the chestpiece says of that step.
  void feed(const patient::Snapshot& now, patient::Manoeuvre manoeuvre,
            const acoustics::Chestpiece::Audibility& heard, double step_s) noexcept;
  void note(const acoustics::TruthEvent& event);
  HeardAt heard(const exam::TorsoPoint& point, std::string site_id, HealthyTwin& twin) const;

 private:
  BreathMeter meter_;
  double seconds_ = 0.0;
  // What is audible of each: from the right lung, from the left, from neither.
  struct Heard {
    AddedSound sound;
    std::array<double, 3> from{};
  };
  std::vector<Heard> added_;
  std::array<std::array<double, 3>, 2> breath_s_{};  // by phase: normal, bronchial, tracheal
};

// What a listener finds at each of `points` in turn while the body breathes for `seconds`, starting from its state now;
// the body is a copy.
struct PlaceToHear {
  exam::TorsoPoint point;
  std::string site_id;
};
Result<std::vector<HeardAt>> hear_places(
    patient::Patient body, HealthyTwin& twin, Seed seed, std::span<const PlaceToHear> places,
    double seconds, acoustics::Surroundings room = acoustics::Surroundings::kQuiet);

}  // namespace phren::bedside
