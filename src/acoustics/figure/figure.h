// One person's body to look at: the skin at rest as a mesh, with landmarks.
//
// Shapes:  vertices in cm on the axes of torso.h: x to the patient's left, y to the front, z up; the
//          suprasternal notch at z = 0, the chest's half depth at y = 0. Arms lifted as moulded.
// Errors:  none: a person that patient::complete() accepts has a body.
// Source:  mesh and shapes as in mould.h. How build follows from height, weight and muscle is ours;
//          its measures are checked against ANSUR II (tests/acoustics/figure_test.cc).
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "acoustics/figure/mould.h"
#include "patient/types.h"

namespace phren::acoustics {

using Triangle = std::array<std::uint32_t, 3>;

struct Figure {
  patient::Person person;
  std::vector<Point> at, normal;
  std::vector<Triangle> triangles;
  std::array<std::vector<float>, kNumPlanes> plane;
  std::array<Point, kNumLandmarks> landmark{};  // of the left side or the midline
  std::array<Point, kNumJoints> joint{};        // likewise
  double stature_cm = 0.0;                      // of the whole body, legs and all
  double notch_height_cm = 0.0;                 // above the floor, standing

  Point of(Landmark which, bool is_right = false) const noexcept {
    const Point p = landmark[static_cast<std::size_t>(which)];
    return is_right ? mirrored(p) : p;
  }
  Point of(Joint which, bool is_right = false) const noexcept {
    const Point p = joint[static_cast<std::size_t>(which)];
    return is_right ? mirrored(p) : p;
  }
  float share(Plane which, std::size_t vertex) const noexcept {
    return plane[static_cast<std::size_t>(which)][vertex];
  }
};

Figure make_figure(const Mould& mould, const patient::Person& person);

// Unit normals of a mesh, each the mean of its triangles' by area.
void set_normals(const std::vector<Point>& at, const std::vector<Triangle>& triangles,
                 std::vector<Point>& normal);

}  // namespace phren::acoustics
