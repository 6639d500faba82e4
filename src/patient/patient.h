// A body that breathes, fails and answers treatment: the whole model in one object.
//
// A patient is a pure machine: configuration + seed + timed actions give the same state on every
// platform. Time is model time; it moves only by step() or advance_to().
//
// Shapes:  one adult or child; copying a Patient copies its whole state (try a treatment on a
// copy). Units:   s, L, cmH2O, mmHg; see types.h and signs.h. Errors:  make() rejects a bad
// configuration; everything else cannot fail and, after make(), never
//          allocates, locks or throws.
// Threads: an instance belongs to one thread; instances share nothing.
// Cost:    fixed steps of config.step_s (1/128 s): mechanics and airway gas each step, blood and
//          circulation at 16 Hz, mechanisms and signs at 1 Hz.
#pragma once

#include <array>
#include <memory>

#include "base/random.h"
#include "base/result.h"
#include "patient/body.h"
#include "patient/breathing.h"
#include "patient/config.h"
#include "patient/course.h"
#include "patient/signs.h"
#include "patient/types.h"

namespace phren::patient {

enum class ActionKind : std::uint8_t {
  kTreat,       // apply or start treatment `index` on `side`
  kStop,        // take a held treatment away
  kAsk,         // `index` is a Manoeuvre, for `seconds` where it lasts
  kSetPosture,  // `index` is a Posture
  kSteer,       // illness `index` goes to severity `amount` over `seconds`; see steer()
  kHappen,      // `index` is an Event, of size `amount`; see happen()
};

// What may befall a living patient, beside an illness that moves (happen()).
enum class Event : std::uint8_t {
  kVomit,       // the stomach empties; the less awake, the more of it is breathed in
  kTire,        // the breathing muscles lose the share `amount` of what is left of them
  kOneWayLeak,  // a hole in the lung of `side` lets air out only from now on; nothing without a hole
  kTornLung,    // a hole opens in the lung of `side`: two-way, `amount` 1 a very large one
  kCough,       // one cough, with the next breath
};
inline constexpr int kNumEvents = 5;

struct Action {
  ActionKind kind = ActionKind::kTreat;
  int index = 0;
  exam::Side side = exam::Side::kMidline;
  double seconds = 20.0;
  double amount = 0.5;

  static Action ask(Manoeuvre manoeuvre, double seconds = 20.0) {
    return {ActionKind::kAsk, static_cast<int>(manoeuvre), exam::Side::kMidline, seconds, 0.5};
  }
  static Action steer(int condition, double severity, double over_s) {
    return {ActionKind::kSteer, condition, exam::Side::kMidline, over_s, severity};
  }
  static Action happen(Event event, exam::Side side = exam::Side::kMidline, double amount = 0.5) {
    return {ActionKind::kHappen, static_cast<int>(event), side, 0.0, amount};
  }
};

class Patient {
 public:
  // kInvalidArgument naming the field when the configuration is out of range.
  static Result<Patient> make(const PatientConfig& config, Seed seed);

  void step() noexcept;                     // one config.step_s
  void advance_to(double time_s) noexcept;  // whole steps up to time_s; backwards: nothing
  double time_s() const noexcept;
  double step_s() const noexcept { return step_s_; }
  // Takes effect now (breath manoeuvres: with the next breath). False for an unknown treatment.
  bool act(const Action& action) noexcept;

  // ---- Steering a living patient: for whoever leads an encounter. Each is also an Action, so that a
  // log of timed actions relives it bit for bit. A copy of the patient keeps what was steered.
  //
  // Moves illness `condition` (its place in PatientConfig::conditions) from where it is to
  // `severity` (0..1) in a straight line over `over_s` seconds (0: at once) from now; its natural or
  // configured course ends there. Every illness of the configuration can be steered, also one that
  // was configured with severity 0: it is absent until it is brought in, on the side or lobe that
  // ConditionUse gave it. What the illness has done (gas in the pleura, water in the lung, blood
  // lost to a leak of plasma, fatigue) stays when its severity falls. False for no such illness, a
  // severity outside 0..1 or a time below 0.
  bool steer(int condition, double severity, double over_s) noexcept;
  // Something befalls the patient now. `side` matters to the two of the lung (midline: both sides);
  // `amount` 0..1 to kVomit, kTire and kTornLung. False for an unknown event or amount.
  bool happen(Event event, exam::Side side = exam::Side::kMidline, double amount = 0.5) noexcept;
  int condition_count() const noexcept { return static_cast<int>(conditions_.size()); }
  double severity(int condition) const noexcept;  // now; 0 for no such illness

  bool is_treatment_on(int index) const noexcept { return course_.is_on(index); }

  Snapshot snapshot() const noexcept;
  Monitor monitor() const noexcept;
  Signs signs() const noexcept;
  Inside inside() const noexcept;
  const Person& person() const noexcept { return person_; }
  const Reference& reference() const noexcept { return reference_; }

  // For tests and charts.
  const Mechanics& mechanics() const noexcept { return mechanics_; }
  const GasExchange& gas() const noexcept { return gas_; }
  const Circulation& circulation() const noexcept { return circulation_; }
  const Breathing& breathing() const noexcept { return breathing_; }
  const Load& load() const noexcept { return course_.load(); }
  const Course& course() const noexcept { return course_; }
  // One forced breath on a copy of the lung: litres in the first second, peak flow.
  struct Spirometry {
    double fev1_L = 0.0, fvc_L = 0.0, peak_flow_L_per_s = 0.0;
  };
  Spirometry forced_breath() const noexcept;

  // For experiments and tests: muscles that do nothing, and air put into a pleural space.
  void inject_pleural_gas(exam::Side side, double volume_L) noexcept;
  // From the next breath on: 0 every breath alike, 1 as people breathe (variability.h).
  void set_breath_variability(double amount, Seed seed) noexcept {
    breathing_.variability().set(amount, person_.age_years, seed);
  }
  void hold_effort(bool is_paralysed) noexcept { is_paralysed_ = is_paralysed; }

 private:
  static constexpr double kSlow_s = 1.0 / 16.0;  // blood and circulation
  static constexpr double kSecond_s = 1.0;       // mechanisms and signs

  Patient(const PatientConfig& config, const Person& person, const Reference& reference, Seed seed);

  void calibrate() noexcept;
  Effort effort_at(double time_s) noexcept;
  void follow_breath() noexcept;
  void read_capnogram() noexcept;
  void close_breath(double time_s, double gas_L) noexcept;
  void slow_step() noexcept;
  void second_step() noexcept;
  void update_reflexes() noexcept;
  void update_demand() noexcept;
  void update_tissue() noexcept;
  // Effort of the muscles beyond rest, in multiples of it.
  double added_effort() const noexcept {
    return breathing_.effort_cmH2O() / breathing_.parameters().resting_effort_cmH2O - 1.0;
  }
  void update_body() noexcept;
  void update_breathing() noexcept;
  void update_circulation() noexcept;
  void update_brain(double dt_s) noexcept;
  void update_stomach(double dt_s) noexcept;
  void update_creep(double dt_s) noexcept;
  std::array<double, kLobes> felt_water() const noexcept;  // less under airway pressure
  double pooled_L() const noexcept;
  double brain_flow() const noexcept;  // share of the usual
  void update_water(double dt_s) noexcept;
  void update_oximeter() noexcept;

  Person person_;
  Reference reference_;
  Posture posture_;
  double step_s_;
  std::uint64_t steps_ = 0;
  double start_s_ = 0.0;
  std::uint32_t slow_every_, second_every_;

  std::vector<ActiveCondition> conditions_;
  Course course_;
  Mechanics mechanics_;
  Breathing breathing_;
  GasExchange gas_;
  Circulation circulation_;
  LungBlood blood_;
  Body body_;

  std::array<double, kLobes> water_{};  // oedema made by pressure and leak
  std::array<double, 2> torn_{},
      valve_{};  // holes in the lung, and flaps on them, that events made
  double arousal_ = 1.0, brainstem_ = 1.0, gasping_ = 1.0, temperature_C_ = 37.0;
  double brain_injury_min_ = 0.0;  // minutes without any supply, or longer with some
  double stomach_L_ = 0.0, vomit_ = 0.0, aspirated_ = 0.0, skin_air_ = 0.0, exposure_ = 0.0,
         creep_ = 0.0, given_ = 0.0;
  double mean_volume_L_ = 3.0, pleural_now_ = -6.0, most_mouth_cmH2O_ = 0.0;
  double mean_pleural_cmH2O_ = -6.0, rest_pleural_cmH2O_ = -6.0;
  double mean_shift_L_ = 0.0;  // of the mediastinum over a breath or so
  std::array<double, 2> mean_side_cmH2O_{-6.0, -6.0}, wall_creep_L_{};
  double recruited_cmH2O_ = 0.0, irritation_ = 0.0, stiffness_ = 1.0, resistance_ = 1.0;
  double grunt_ = 0.0, grunt_brake_ = 0.0;
  CirculationDemand demand_;
  double bled_L_ = 0.0;
  bool is_paralysed_ = false;

  // assisted breaths
  double machine_start_s_ = -1e9;

  // breath bookkeeping
  exam::Phase phase_ = exam::Phase::kPause;
  double phase_start_s_ = 0.0;
  std::uint64_t breath_count_ = 0, counted_breath_ = 0;
  Manoeuvre last_manoeuvre_ = Manoeuvre::kTidal;
  std::array<double, kLobes> breath_low_L_{}, breath_high_L_{}, limited_L_{}, last_tidal_L_{};
  double end_expiratory_L_ = 0.0, peep_cmH2O_ = 0.0, tidal_L_ = 0.0, low_L_ = 0.0, high_L_ = 0.0;
  double pleural_low_ = 0.0, pleural_high_ = 0.0, last_pleural_low_ = -8.0,
         last_pleural_high_ = -5.0;
  std::array<float, 512> trace_{};  // CO2 at the mouth through this expiration, every fourth step
  std::size_t trace_size_ = 0;
  double plateau_slope_mmHg_per_s_ = 1.0, limited_sum_ = 0.0;
  bool is_capnogram_obstructive_ = false;
  double etco2_mmHg_ = 38.0, co2_max_ = 0.0, co2_now_ = 0.0;
  std::array<double, 5> intervals_s_{};  // last breath lengths
  double last_breath_s_ = 0.0;

  std::array<double, 64> saturation_ring_{};
  std::uint32_t ring_at_ = 0;
  double spo2_ = 97.0;
};

}  // namespace phren::patient
