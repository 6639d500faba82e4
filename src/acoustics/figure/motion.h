// The figure moved by the running body: each side of the chest and the belly by the volumes in them,
// retractions, neck and shoulders by effort, arms by what the view needs.
//
// Shapes:  vertices in cm as in figure.h, one per vertex of the figure.
// Errors:  none.
// Source:  the skin sweeps the volume that the model's side takes up, so drawn excursion over
//          modelled is 1 by construction (tests/acoustics/figure_motion_test.cc). Share of the rib
//          cage: upright 0.60-0.70, supine 0.30-0.45 (from memory), infants 33 % + 1.4 % a month
//          (Hershenson 1990). Upper ribs move forward and up, lower ones outward (pump and bucket
//          handle, from memory; skin of ribs 3-5 3-5 mm forward in quiet breathing: De Groote 1997).
//          Sizes of retractions: 2-10 mm in infants, 1-4 mm in adults (from memory). A loose piece of
//          the wall sinks 15 mm at the most (from memory: one to three centimetres), the rest of its
//          side rises by as much more; with abdominal paradox the ribs take more than the breath and
//          the belly sinks.
#pragma once

#include <array>
#include <vector>

#include "acoustics/figure/ribs.h"
#include "patient/person.h"
#include "patient/signs.h"

namespace phren::acoustics {

struct BreathNow {
  std::array<double, exam::kNumLobes> lobe_L{};
  std::array<double, 2> pleural_L{};  // gas and fluid around the right and the left lung
  double effort_cmH2O = 0.0;
};

struct Pose {
  double arms_forward =
      0.0;             // 0 hanging .. 1 forward, for listening behind .. 1.7 up, for the side
  double lying = 0.0;  // 0 upright .. 1 flat: the belly takes more of the breath
  double plain = 1.0;  // 2: movement drawn twice as large, for a hall
};

class Motion {
 public:
  Motion(const Figure& figure, const SkinMap& map, const Ribs& ribs);

  void move(const BreathNow& breath, const patient::Signs& signs, const Pose& pose);
  const std::vector<Point>& at() const noexcept { return at_; }
  const std::vector<Point>& normal() const noexcept { return normal_; }

  // What the last move() gave the rib cage of each side and the belly, L from rest.
  std::array<double, 2> side_L() const noexcept { return side_L_; }
  double belly_L() const noexcept { return belly_L_; }
  // Healthy lobes at the end of a quiet breath.
  const std::array<double, exam::kNumLobes>& rest_L() const noexcept { return rest_L_; }
  double rib_share(double lying) const noexcept;
  // 0..1: how hard the muscles pull now, of their usual pull.
  double pull() const noexcept { return pull_; }

 private:
  static constexpr std::size_t kZones = 3;  // upper, middle, lower of one side
  enum Field : std::size_t {
    kRightZone = 0,
    kLeftZone = kZones,
    kBelly = 2 * kZones,
    kRightFlail,  // the loose piece of the wall
    kLeftFlail,
    kSpaces,  // between ribs and above the notch and collar bones, in
    kSubcostal,
    kShoulders,  // up
    kCords,      // sternocleidomastoids, out
    kNostrils,
    kAir,       // under the skin of neck and upper chest
    kTrachea,   // towards the left
    kSwelling,  // of lips and lids, out
    kFields
  };
  using Moves = std::vector<Point>;

  void make_fields();
  void normalise(Field field);
  double growth(Field first, std::size_t count) const;
  static double move_for(double volume_L, double c) noexcept;
  void add_signs(const patient::Signs& signs, double plain);
  void set_arms(const Pose& pose, double tripod);

  const Figure* figure_;
  const SkinMap* map_;
  const Ribs* ribs_;
  std::array<Moves, kFields> field_;
  std::array<double, kFields> amount_{};
  std::array<double, exam::kNumLobes> rest_L_{};
  std::array<double, 3> growth_{};  // right, left, belly: a larger chest sweeps more for a move
  std::array<double, 2> side_L_{};
  double belly_L_ = 0.0, pull_ = 0.0, usual_pull_cmH2O_ = 5.0;
  std::vector<Point> at_, normal_;
};

}  // namespace phren::acoustics
