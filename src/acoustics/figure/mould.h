// The packed body: every shape of data/figure/body.bin, unmixed.
//
// Shapes:  the left half with the midline, then the left eyeball; the right half is its mirror. A
//          place is dm as in the source mesh, already turned to the axes of torso.h: x to the
//          patient's left, y to the front, z up.
// Errors:  kMalformed naming what is wrong when the bytes are not such a file.
// Source:  MakeHuman base mesh and targets (CC0), packed by scripts/pack_body.py. Landmark vertices
//          were checked against ANSUR II heights (tests/acoustics/figure_test.cc).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"

namespace phren::acoustics {

struct Point {
  float x = 0.0f, y = 0.0f, z = 0.0f;
};
inline Point operator+(Point a, Point b) noexcept {
  return {a.x + b.x, a.y + b.y, a.z + b.z};
}
inline Point operator-(Point a, Point b) noexcept {
  return {a.x - b.x, a.y - b.y, a.z - b.z};
}
inline Point operator*(float k, Point a) noexcept {
  return {k * a.x, k * a.y, k * a.z};
}
inline float dot(Point a, Point b) noexcept {
  return a.x * b.x + a.y * b.y + a.z * b.z;
}
inline Point cross(Point a, Point b) noexcept {
  return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
inline Point mirrored(Point a) noexcept {
  return {-a.x, a.y, a.z};
}

enum class Landmark : std::uint8_t {
  kJugularNotch,
  kSternalAngle,
  kXiphisternalJoint,
  kXiphoidTip,
  kNavel,
  kC7,
  kT3,
  kT7,
  kT10,
  kT12,
  kL4,
  kSternoclavicularJoint,
  kMidclavicularPoint,
  kAcromion,
  kNipple,
  kFrontAxillaryFold,
  kArmpit,
  kBackAxillaryFold,
  kScapulaSpine,  // its inner end
  kScapulaAngle,  // the lower one
  kCount
};
inline constexpr std::size_t kNumLandmarks = static_cast<std::size_t>(Landmark::kCount);

enum class Joint : std::uint8_t { kShoulder, kClavicle, kNeck, kHead, kMouth, kEye, kCount };
inline constexpr std::size_t kNumJoints = static_cast<std::size_t>(Joint::kCount);

// What belongs to a vertex, 0..1 each. `light`: share of the sky it sees.
enum class Plane : std::uint8_t {
  kHair,
  kBrow,
  kLip,
  kAreola,
  kEye,
  kMouth,
  kLight,
  kArm,
  kShoulder,
  kNeck,
  kHead,
  kCount
};
inline constexpr std::size_t kNumPlanes = static_cast<std::size_t>(Plane::kCount);

struct Corner {  // of the whole body at its own size
  float floor_dm, crown_dm, litres;
};

struct Mould {
  using Quad = std::array<std::uint32_t, 4>;
  using Shape = std::vector<Point>;  // per vertex, then per joint

  std::size_t vertices = 0, skin_quads = 0;
  std::vector<std::uint8_t> is_middle;
  std::vector<Quad> quads;  // of the skin, then of the eye
  std::array<std::vector<float>, kNumPlanes> plane;
  std::array<std::array<std::uint32_t, 2>, kNumLandmarks> landmark{};  // the middle of the two
  std::array<Corner, 72> corner{};  // sex, age, muscle, weight (2 x 4 x 3 x 3)
  Shape base;
  std::vector<Shape> shapes;  // differences from the base

  static Result<Mould> read(std::span<const std::uint8_t> bytes);
};

// How far a person is towards each shape. Ages stand at 1, 10, 25 and 90 years.
struct Mix {
  double male = 0.5, age_years = 30.0, muscle = 0.5, weight = 0.5, sag = 0.0;  // 0..1 but for age
};
// Places of all vertices and joints, in dm.
Mould::Shape mixed(const Mould& mould, const Mix& mix);
Corner mixed_corner(const Mould& mould, const Mix& mix) noexcept;

}  // namespace phren::acoustics
