#include "acoustics/torso.h"

#include "acoustics/lanes.h"

namespace phren::acoustics {
namespace {

using exam::Lobe;

constexpr double kC7AboveNotch = 0.42;  // in units of notch to nipple: 6.6 / 15.8
constexpr double kC7ToT12 = 1.77;       // 28 / 15.8
constexpr double kAdultHalfBreadth = 14.0;
constexpr double kAdultUnit_cm = 15.8;
constexpr double kAdultLungHeight_cm = 24.0;

struct Row {
  Lobe lobe;
  double x, y, z;   // of half breadth, half depth, notch to nipple
  double strength;  // amplitude; left base and right upper front are louder (see docs/validation)
};
// Apex, front, back, side and base of each lobe, between the fissures.
constexpr std::array<Row, kNumPoints> kRows = {{
    {Lobe::kRul, -0.36, 0.05, 0.16, 1.00},   {Lobe::kRul, -0.52, 0.52, -0.28, 1.00},
    {Lobe::kRul, -0.34, -0.50, 0.26, 1.00},  {Lobe::kRul, -0.74, 0.10, -0.50, 1.00},
    {Lobe::kRul, -0.50, 0.62, -0.55, 1.00},  {Lobe::kRml, -0.46, 0.64, -0.92, 1.00},
    {Lobe::kRml, -0.70, 0.40, -0.95, 1.00},  {Lobe::kRml, -0.36, 0.66, -1.02, 1.00},
    {Lobe::kRll, -0.38, -0.60, 0.02, 0.95},  {Lobe::kRll, -0.40, -0.66, -0.34, 0.95},
    {Lobe::kRll, -0.48, -0.66, -0.68, 0.90}, {Lobe::kRll, -0.50, -0.62, -1.02, 0.88},
    {Lobe::kRll, -0.80, -0.15, -1.18, 0.95}, {Lobe::kRll, -0.68, 0.46, -1.28, 1.10},
    {Lobe::kLul, 0.36, 0.05, 0.16, 1.00},    {Lobe::kLul, 0.52, 0.56, -0.38, 1.16},
    {Lobe::kLul, 0.34, -0.50, 0.26, 1.08},   {Lobe::kLul, 0.74, 0.16, -0.58, 1.20},
    {Lobe::kLul, 0.60, 0.60, -0.86, 1.20},   {Lobe::kLll, 0.38, -0.60, 0.02, 1.10},
    {Lobe::kLll, 0.42, -0.66, -0.44, 1.26},  {Lobe::kLll, 0.49, -0.65, -0.90, 1.40},
    {Lobe::kLll, 0.80, -0.15, -1.12, 1.15},  {Lobe::kLll, 0.68, 0.44, -1.28, 1.20},
}};

double asin_small(double s) noexcept {  // angle whose sine is s, by Newton on det::sin
  s = clamp(s, -0.98, 0.98);
  double a = s * (1.0 + 0.2 * s * s);
  for (int i = 0; i < 6; ++i) a -= (det::sin(a) - s) / det::cos(a);
  return a;
}

}  // namespace

double distance(const Vec3& a, const Vec3& b) noexcept {
  const double dx = a.x - b.x, dy = a.y - b.y, dz = a.z - b.z;
  return det::sqrt(dx * dx + dy * dy + dz * dz);
}

Torso::Torso(const patient::Person& person) noexcept
    : person_(person),
      half_breadth_(person.half_chest_breadth_cm),
      half_depth_(0.5 * person.chest_depth_cm),
      unit_(kAdultUnit_cm * person.lung_height_cm / kAdultLungHeight_cm),
      size_(0.5 * (person.half_chest_breadth_cm / kAdultHalfBreadth +
                   person.lung_height_cm / kAdultLungHeight_cm)) {
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    points_[i] = {kRows[i].lobe, scaled(kRows[i].x, kRows[i].y, kRows[i].z), kRows[i].strength};
  }
}

Vec3 Torso::scaled(double x, double y, double z) const noexcept {
  return {x * half_breadth_, y * half_depth_, z * unit_};
}

Vec3 Torso::larynx() const noexcept {
  return scaled(0.0, 0.30, 0.30);
}
Vec3 Torso::notch() const noexcept {
  return scaled(0.0, 0.35, -0.05);
}
Vec3 Torso::heart() const noexcept {
  return scaled(0.22, 0.55, -0.95);
}

Vec3 Torso::bronchus(Lobe lobe) const noexcept {
  switch (lobe) {
    case Lobe::kRul:
      return scaled(-0.40, 0.42, -0.36);
    case Lobe::kRml:
      return scaled(-0.34, 0.25, -0.70);
    case Lobe::kRll:
      return scaled(-0.30, -0.10, -0.52);
    case Lobe::kLul:
      return scaled(0.36, 0.32, -0.40);
    default:
      return scaled(0.30, -0.10, -0.52);
  }
}

SkinPlace Torso::place(const exam::TorsoPoint& point) const noexcept {
  const double u = clamp(point.u, -1.2, 1.2);
  const double v = clamp(point.v, -0.6, 2.0);
  SkinPlace out;
  out.height_cm = -v * unit_;
  switch (point.aspect) {
    case exam::Aspect::kFront:
      out.angle_rad = asin_small(u);
      break;
    case exam::Aspect::kBack:
      out.angle_rad = (u >= 0.0 ? det::kPi : -det::kPi) - asin_small(u);
      out.height_cm = (kC7AboveNotch - v * kC7ToT12) * unit_;
      break;
    case exam::Aspect::kLeftSide:
      out.angle_rad = 0.5 * det::kPi + 0.6 * u;
      break;
    case exam::Aspect::kRightSide:
      out.angle_rad = -0.5 * det::kPi - 0.6 * u;
      break;
    case exam::Aspect::kNeck:
      out.angle_rad = asin_small(u);
      out.neck = 1.0;
      break;
  }
  return out;
}

SkinPoint Torso::skin(const SkinPlace& place) const noexcept {
  SkinPoint out;
  const double z = place.height_cm / unit_;
  const double taper = 1.0 - 0.45 * smooth_step(0.0, 0.6, z);
  const double scale = mix(taper, 0.42, place.neck);
  const double s = det::sin(place.angle_rad), c = det::cos(place.angle_rad);
  out.at = {half_breadth_ * s * scale, half_depth_ * c * scale, place.height_cm};
  // Trachea and larynx lie right under the skin of the neck, wherever its axis is.
  if (place.neck > 0.0) out.at.y += place.neck * 0.12 * half_depth_;
  const double front = c > 0.0 ? c * c : 0.0, back = c < 0.0 ? c * c : 0.0;
  out.wall_cm = front * person_.wall_front_cm + back * person_.wall_back_cm +
                (1.0 - front - back) * person_.wall_side_cm;
  out.frontness = 0.5 + 0.5 * c;
  // Breast tissue over the lower front; the shoulder blade over the middle of the upper back.
  if (person_.sex == patient::Sex::kFemale && person_.age_years > 12.0) {
    const double dz = (z + 0.95) / 0.3, dx = (s < 0.0 ? -s : s) - 0.55;
    out.wall_cm += front * 0.6 * det::exp(-dz * dz - dx * dx / 0.06);
  }
  const double v_back = (kC7AboveNotch - z) / kC7ToT12;
  const double across = (s < 0.0 ? -s : s);
  out.bone_db = -6.0 * back * smooth_step(0.10, 0.18, v_back) *
                (1.0 - smooth_step(0.50, 0.58, v_back)) * smooth_step(0.42, 0.52, across) *
                (1.0 - smooth_step(0.85, 0.95, across));
  const double lean = out.at.x / (0.18 * half_breadth_);
  out.leftness = clamp(lean, -1.0, 1.0);
  out.upper = smooth_step(-1.1, 0.1, z);
  return out;
}

}  // namespace phren::acoustics
