// What lies under the skin of a figure: ribs, lungs by lobe, airways, heart, diaphragm, and what is in
// the pleural space, from the same torso model as the sound.
//
// Shapes:  one mesh, vertices in cm as in figure.h; `part` says what each belongs to.
// Errors:  none.
// Source:  bones, borders and fissures as in ribs.h; airways and heart where torso.h has them for the
//          sound; how a lung falls to its root as gas takes its place is geometry (volumes as modelled).
#pragma once

#include <array>
#include <vector>

#include "acoustics/figure/motion.h"
#include "acoustics/torso.h"

namespace phren::acoustics {

enum class Organ : std::uint8_t { kBone, kCartilage, kLung, kHeart, kAirway, kDiaphragm, kPleura };

class Inside {
 public:
  Inside(const Figure& figure, const SkinMap& map, const Ribs& ribs);

  // Lungs as large as the model has them, the middle moved by `shift` (-1 right .. +1 left).
  void move(const BreathNow& breath, const std::array<double, exam::kNumLobes>& rest_L,
            const std::array<double, 2>& fluid_L, double shift);

  const std::vector<Point>& at() const noexcept { return at_; }
  const std::vector<Point>& normal() const noexcept { return normal_; }
  const std::vector<Triangle>& triangles() const noexcept { return triangles_; }
  const std::vector<Organ>& part() const noexcept { return part_; }
  // Heights above the oblique and the horizontal fissure, cm: their signs tell the lobe.
  const std::vector<std::array<float, 2>>& fissure() const noexcept { return fissure_; }
  // Height to which fluid stands on the right and the left; -1000 where there is none.
  std::array<double, 2> fluid_cm() const noexcept { return fluid_cm_; }
  // Share of each pleural space that is not lung.
  std::array<double, 2> gap() const noexcept { return gap_; }

 private:
  double top_cm(double angle_rad) const noexcept;
  Point wall(double angle_rad, double height_cm, double inset) const noexcept;
  void add_lung(double side, Organ part);
  void add_tube(Organ part, const std::vector<Point>& line, double wide_cm, double deep_cm);
  void add_ribs();
  void add_airways();
  void add_ball(Organ part, Point centre, Point half);
  void add_diaphragm();
  void add_grid(Organ part, std::uint32_t first, std::uint32_t rows, std::uint32_t columns);
  Point of_torso(const Vec3& place) const noexcept;

  const Figure* figure_;
  const SkinMap* map_;
  const Ribs* ribs_;
  Torso torso_;
  double low_cm_ = 0.0;
  std::array<Point, 2> root_{};
  std::vector<Point> rest_, at_, normal_;
  std::vector<Triangle> triangles_;
  std::vector<Organ> part_;
  std::vector<std::array<float, 2>> fissure_;
  std::array<double, 2> fluid_cm_{-1000.0, -1000.0}, gap_{};
};

}  // namespace phren::acoustics
