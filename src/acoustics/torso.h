// The torso as a body in space: where a point of the skin lies, how thick the wall is there, and
// where in the chest the sound sources sit.
//
// Shapes:  an elliptic cylinder that tapers above the suprasternal notch into shoulders and neck.
// Units:   cm; x to the patient's left, y to the front, z up; origin in the midline, at half depth,
//          level with the suprasternal notch. Angles: 0 front midline, +pi/2 the patient's left
//          side.
// Errors:  none: coordinates outside the torso are taken to its edge.
// Source:  proportions from an adult survey (notch to nipple 15.8 cm, C7 6.6 cm above the notch, C7
//          to T12 about 28 cm) and from the fissures' surface lines; places of the sources are
//          ENGINEERING, checked against the lobe weights of data/sites.toml.
#pragma once

#include <array>
#include <cstddef>

#include "exam/types.h"
#include "patient/types.h"

namespace phren::acoustics {

struct Vec3 {
  double x = 0.0, y = 0.0, z = 0.0;
};
double distance(const Vec3& a, const Vec3& b) noexcept;

// A place on the skin in coordinates that can be blended smoothly from one place to another.
struct SkinPlace {
  double angle_rad = 0.0;
  double height_cm = 0.0;  // z
  double neck = 0.0;       // 1 on the neck, 0 on the trunk
};

struct SkinPoint {
  Vec3 at;
  double wall_cm = 2.5;    // tissue between lung and chestpiece
  double bone_db = 0.0;    // shoulder blade
  double leftness = 0.0;   // -1 right .. +1 left, 0 at the midline
  double upper = 0.0;      // 1 at the apices .. 0 at the bases
  double frontness = 0.0;  // 1 front .. 0 back
};

struct SourcePoint {
  exam::Lobe lobe;
  Vec3 at;
  double strength;  // how much louder than its neighbours, amplitude
};
inline constexpr std::size_t kNumPoints = 24;

class Torso {
 public:
  explicit Torso(const patient::Person& person) noexcept;

  SkinPlace place(const exam::TorsoPoint& point) const noexcept;
  SkinPoint skin(const SkinPlace& place) const noexcept;

  const std::array<SourcePoint, kNumPoints>& points() const noexcept { return points_; }
  Vec3 larynx() const noexcept;
  Vec3 notch() const noexcept;
  Vec3 heart() const noexcept;
  // End of the wide airways on the way to a lobe: beyond it sound goes through lung tissue.
  Vec3 bronchus(exam::Lobe lobe) const noexcept;
  double notch_to_nipple_cm() const noexcept { return unit_; }
  // Distances divided by this are those of an adult of middle size.
  double size() const noexcept { return size_; }

 private:
  Vec3 scaled(double x, double y, double z) const noexcept;

  patient::Person person_;
  double half_breadth_, half_depth_, unit_, size_;
  std::array<SourcePoint, kNumPoints> points_;
};

}  // namespace phren::acoustics
