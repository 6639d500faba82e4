// From a place on the skin to the acoustics' torso coordinates and back: the one definition that
// drawing, listening and the camera share.
//
// Shapes:  a horizontal section of the trunk is met by rays from its middle; the ray's angle gives u,
//          landmarks give v (piecewise linear in height). Points are cm as in figure.h.
// Errors:  to_torso() and to_skin() give nothing for what is not chest or neck.
// Source:  exam/types.h says what u and v mean; the form of the map is ours. A round trip is within
//          2 mm (tests/acoustics/figure_test.cc).
#pragma once

#include <optional>
#include <vector>

#include "acoustics/figure/figure.h"
#include "exam/types.h"

namespace phren::acoustics {

struct SkinSpot {  // on a triangle of the figure
  std::uint32_t triangle = 0;
  float along_1 = 0.0f, along_2 = 0.0f;  // towards its second and third vertex
};

// Where a section of the trunk lies and how large it is.
struct Section {
  double half_breadth_cm = 1.0, half_depth_cm = 1.0, middle_y_cm = 0.0;
};

class SkinMap {
 public:
  explicit SkinMap(const Figure& figure);

  // A point of the skin at rest; off the chest (head, arm, belly) it is taken to the nearest height.
  std::optional<exam::TorsoPoint> to_torso(Point skin) const noexcept;
  std::optional<SkinSpot> to_skin(const exam::TorsoPoint& place) const noexcept;
  // The angle round the trunk (0 front midline, +pi/2 left side) and the height of a place.
  double angle_rad(const exam::TorsoPoint& place) const noexcept;
  double height_cm(const exam::TorsoPoint& place) const noexcept;
  // Where the skin lies at an angle and a height.
  std::optional<SkinSpot> at(double angle_rad, double height_cm) const noexcept;
  double angle_at(Point skin) const noexcept;

  Section section(double height_cm) const noexcept;
  double front_v(double height_cm) const noexcept;
  double front_height_cm(double v) const noexcept;
  double back_v(double height_cm) const noexcept;
  double back_height_cm(double v) const noexcept;

  Point point(const SkinSpot& spot, const std::vector<Point>& at) const noexcept;

 private:
  void measure_sections();

  const Figure* figure_;
  std::vector<std::uint32_t> trunk_;              // triangles without arms and face
  std::array<std::array<double, 2>, 5> front_{};  // v and height, from above down
  double c7_cm_ = 0.0, t12_cm_ = 0.0, low_cm_ = 0.0, step_cm_ = 0.5;
  std::vector<Section> sections_;  // every step_cm_ from low_cm_ up
};

// What a ray meets first.
std::optional<SkinSpot> first_met(const std::vector<Point>& at,
                                  const std::vector<Triangle>& triangles, Point from,
                                  Point direction) noexcept;

}  // namespace phren::acoustics
