// Conditions and treatments over time: how much of each mechanism is at work now.
//
// A treatment application is a depot that empties into its effect and fades (two exponentials), so
// repeated applications add up; a held treatment rises and falls towards on or off.
//
// Errors:  none after construction; update() does not allocate.
// Source:  time courses are data; the two-exponential form is the usual one-compartment model.
#pragma once

#include <array>
#include <vector>

#include "base/random.h"
#include "patient/config.h"

namespace phren::patient {

class Course {
 public:
  Course(const PatientConfig& config, Seed seed);

  // Start or apply; for held treatments until stop(). `side` matters for sided treatments.
  // False if there is no such treatment.
  bool apply(int treatment, exam::Side side, double time_s) noexcept;
  bool stop(int treatment, exam::Side side) noexcept;
  void update(double time_s, double dt_s) noexcept;
  // What the body itself adds to this second's load, after update().
  void worsen(Mechanism body_mechanism, double value) noexcept;
  void worsen_lobe(Mechanism lobe_mechanism, std::size_t lobe, double value) noexcept;
  void worsen_side(Mechanism side_mechanism, std::size_t side, double value) noexcept;
  void ease_lobe(Mechanism lobe_mechanism, std::size_t lobe, double share) noexcept;
  // From now on the condition moves to `severity` in a straight line and stays there.
  void steer(std::size_t condition, double severity, double time_s, double over_s) noexcept;
  const Load& load() const noexcept { return load_; }
  bool is_on(int treatment) const noexcept;
  // Level of effect `index` of a treatment, 1 = peak of one application.
  double level(int treatment, std::size_t index) const noexcept;
  double severity(std::size_t condition, double time_s) const noexcept;

 private:
  struct Live {
    TreatmentEffect effect;
    int treatment = 0;
    std::uint8_t sides = 3;
    double depot = 0.0, level = 0.0, wait_s = 0.0, pending = 0.0;
    double scale = 1.0;  // makes the peak of one application 1
    bool is_on = false;
  };

  struct Steered {  // where a condition was told to go
    double from = 0.0, to = 0.0, begin_s = 0.0, over_s = 0.0;
    bool is_on = false;
  };

  void add(Mechanism m, std::size_t index, double value) noexcept;
  void add_conditions(double time_s) noexcept;
  void act_on(const Live& live) noexcept;

  std::vector<ActiveCondition> conditions_;
  std::vector<Steered> steered_;                              // one per condition
  std::vector<std::array<double, exam::kNumLobes>> scatter_;  // one per effect, in order
  std::vector<Live> live_;
  double wall_cm_;
  RandomStream chance_;
  Load load_;
};

}  // namespace phren::patient
