#include "acoustics/figure/skin_map.h"

#include "acoustics/figure/plane.h"

namespace phren::acoustics {
namespace {

using exam::Aspect;

constexpr double kSideFrom_rad = 0.5 * det::kPi - 0.6;  // as Torso::place() has the sides
constexpr double kSidePerU_rad = 0.6;
// Muscles at the arms' roots make the mould's chest broader than the ribs that u goes by.
constexpr double kRibShare = 0.93;
constexpr double kNeckHalfWidth_u = 0.26;
constexpr double kNeckTop_v = -0.62, kNeckFrom_v = -0.06, kFrontTop_v = -0.30, kLow_v = 1.75;

struct Meeting {
  double far = 0.0, along_1 = 0.0, along_2 = 0.0;
};

// Moeller & Trumbore 1997, from memory.
std::optional<Meeting> meets(Point from, Point direction, Point a, Point b, Point c) noexcept {
  const Point e1 = b - a, e2 = c - a, p = cross(direction, e2);
  const double det = static_cast<double>(dot(e1, p));
  if (det < 1e-9 && det > -1e-9) return std::nullopt;
  const Point s = from - a;
  const double u = static_cast<double>(dot(s, p)) / det;
  if (u < -1e-4 || u > 1.0001) return std::nullopt;
  const Point q = cross(s, e1);
  const double v = static_cast<double>(dot(direction, q)) / det;
  if (v < -1e-4 || u + v > 1.0001) return std::nullopt;
  return Meeting{static_cast<double>(dot(e2, q)) / det, u, v};
}

SkinSpot spot_of(std::uint32_t triangle, const Meeting& m) noexcept {
  return {triangle, static_cast<float>(std::clamp(m.along_1, 0.0, 1.0)),
          static_cast<float>(std::clamp(m.along_2, 0.0, 1.0))};
}

}  // namespace

std::optional<SkinSpot> first_met(const std::vector<Point>& at,
                                  const std::vector<Triangle>& triangles, Point from,
                                  Point direction) noexcept {
  std::optional<SkinSpot> out;
  double nearest = 1e30;
  for (std::uint32_t i = 0; i < triangles.size(); ++i) {
    const Triangle& t = triangles[i];
    const Point outward = cross(at[t[1]] - at[t[0]], at[t[2]] - at[t[0]]);
    if (dot(direction, outward) >= 0.0f) continue;  // skin is met from outside
    const auto m = meets(from, direction, at[t[0]], at[t[1]], at[t[2]]);
    if (!m || m->far <= 0.0 || m->far >= nearest) continue;
    nearest = m->far;
    out = spot_of(i, *m);
  }
  return out;
}

SkinMap::SkinMap(const Figure& figure) : figure_(&figure) {
  constexpr std::array<double, 5> kV{-0.42, 0.0, 0.31, 0.98, 2.0};
  constexpr std::array kOf{Landmark::kC7, Landmark::kJugularNotch, Landmark::kSternalAngle,
                           Landmark::kXiphisternalJoint, Landmark::kNavel};
  for (std::size_t i = 0; i < kV.size(); ++i) {
    front_[i] = {kV[i], static_cast<double>(figure.of(kOf[i]).z)};
  }
  c7_cm_ = static_cast<double>(figure.of(Landmark::kC7).z);
  t12_cm_ = static_cast<double>(figure.of(Landmark::kT12).z);
  for (std::uint32_t i = 0; i < figure.triangles.size(); ++i) {
    bool is_trunk = true;
    for (const std::uint32_t v : figure.triangles[i]) {
      is_trunk = is_trunk && figure.share(Plane::kArm, v) < 0.5f &&
                 figure.share(Plane::kHead, v) < 0.9f && figure.share(Plane::kEye, v) < 0.5f;
    }
    if (is_trunk) trunk_.push_back(i);
  }
  measure_sections();
}

void SkinMap::measure_sections() {
  low_cm_ = front_height_cm(kLow_v) - 2.0;
  const double top = front_height_cm(kNeckTop_v) + 1.0;
  const auto count = static_cast<std::size_t>((top - low_cm_) / step_cm_) + 2;
  std::vector<Section> raw(count);
  const double nipple = static_cast<double>(figure_->of(Landmark::kNipple).z);
  const double reach = 0.25 * static_cast<double>(figure_->of(Landmark::kMidclavicularPoint).x);
  std::vector<double> breadth(count, 0.0), front(count, -1e9), back(count, 1e9);
  for (const std::uint32_t i : trunk_) {
    const Triangle& t = figure_->triangles[i];
    for (std::size_t k = 0; k < 3; ++k) {
      const Point a = figure_->at[t[k]], b = figure_->at[t[(k + 1) % 3]];
      const double za = static_cast<double>(a.z), zb = static_cast<double>(b.z);
      const double lo = std::min(za, zb), hi = std::max(za, zb);
      for (auto j = static_cast<std::size_t>(std::max(0.0, (lo - low_cm_) / step_cm_)); j < count;
           ++j) {
        const double z = low_cm_ + step_cm_ * static_cast<double>(j);
        if (z < lo) continue;
        if (z > hi || hi <= lo) break;
        const double f = (z - za) / (zb - za);
        const double x = blend(static_cast<double>(a.x), static_cast<double>(b.x), f);
        const double y = blend(static_cast<double>(a.y), static_cast<double>(b.y), f);
        breadth[j] = std::max(breadth[j], x < 0.0 ? -x : x);
        if (x > reach || x < -reach) continue;
        front[j] = std::max(front[j], y);
        back[j] = std::min(back[j], y);
      }
    }
  }
  const auto row = [&](double z) {
    return static_cast<std::size_t>(
        std::clamp((z - low_cm_) / step_cm_, 0.0, static_cast<double>(count - 1)));
  };
  for (std::size_t j = 0; j < count; ++j) {
    if (front[j] <= back[j] && j > 0)
      raw[j] = raw[j - 1];
    else
      raw[j] = {1.0, 0.5 * (front[j] - back[j]), 0.5 * (front[j] + back[j])};
    raw[j].half_breadth_cm = kRibShare * breadth[std::min(j, row(nipple))];
  }
  sections_.resize(count);
  constexpr int kSmooth = 3;
  for (int j = 0; j < static_cast<int>(count); ++j) {
    Section sum{0.0, 0.0, 0.0};
    for (int d = -kSmooth; d <= kSmooth; ++d) {
      const Section& one =
          raw[static_cast<std::size_t>(std::clamp(j + d, 0, static_cast<int>(count) - 1))];
      sum.half_breadth_cm += one.half_breadth_cm;
      sum.half_depth_cm += one.half_depth_cm;
      sum.middle_y_cm += one.middle_y_cm;
    }
    constexpr double kShare = 1.0 / (2 * kSmooth + 1);
    sections_[static_cast<std::size_t>(j)] = {kShare * sum.half_breadth_cm,
                                              kShare * sum.half_depth_cm, kShare * sum.middle_y_cm};
  }
}

Section SkinMap::section(double height_cm) const noexcept {
  const double x = std::clamp((height_cm - low_cm_) / step_cm_, 0.0,
                              static_cast<double>(sections_.size() - 1) - 1e-9);
  const auto i = static_cast<std::size_t>(x);
  const double f = x - static_cast<double>(i);
  const Section &a = sections_[i], &b = sections_[i + 1];
  return {blend(a.half_breadth_cm, b.half_breadth_cm, f),
          blend(a.half_depth_cm, b.half_depth_cm, f), blend(a.middle_y_cm, b.middle_y_cm, f)};
}

double SkinMap::front_height_cm(double v) const noexcept {
  std::size_t i = 0;
  while (i + 2 < front_.size() && v > front_[i + 1][0]) ++i;
  const auto &a = front_[i], &b = front_[i + 1];
  return a[1] + (v - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
}
double SkinMap::front_v(double height_cm) const noexcept {
  std::size_t i = 0;
  while (i + 2 < front_.size() && height_cm < front_[i + 1][1]) ++i;
  const auto &a = front_[i], &b = front_[i + 1];
  return a[0] + (height_cm - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
}
double SkinMap::back_v(double height_cm) const noexcept {
  return (c7_cm_ - height_cm) / (c7_cm_ - t12_cm_);
}
double SkinMap::back_height_cm(double v) const noexcept {
  return c7_cm_ - v * (c7_cm_ - t12_cm_);
}

double SkinMap::angle_at(Point skin) const noexcept {
  const Section s = section(static_cast<double>(skin.z));
  return angle_of(static_cast<double>(skin.x) / s.half_breadth_cm,
                  (static_cast<double>(skin.y) - s.middle_y_cm) / s.half_depth_cm);
}

std::optional<exam::TorsoPoint> SkinMap::to_torso(Point skin) const noexcept {
  const double angle = angle_at(skin), size = angle < 0.0 ? -angle : angle;
  const double height = static_cast<double>(skin.z), v = front_v(height);
  if (size > det::kPi - kSideFrom_rad) {
    const double back = back_v(height);
    if (back < -0.35) return std::nullopt;
    return exam::TorsoPoint{Aspect::kBack, det::sin(angle), std::clamp(back, -0.08, 1.12)};
  }
  if (v < kNeckTop_v) return std::nullopt;
  const double across = det::sin(angle);
  if (size < kSideFrom_rad && v < kNeckFrom_v && across < kNeckHalfWidth_u &&
      across > -kNeckHalfWidth_u) {
    return exam::TorsoPoint{Aspect::kNeck, across, v};
  }
  if (size < kSideFrom_rad) {
    return exam::TorsoPoint{Aspect::kFront, across, std::clamp(v, kFrontTop_v, kLow_v)};
  }
  const double u = (size - 0.5 * det::kPi) / kSidePerU_rad;
  return exam::TorsoPoint{angle > 0.0 ? Aspect::kLeftSide : Aspect::kRightSide, u,
                          std::clamp(v, 0.35, kLow_v)};
}

double SkinMap::angle_rad(const exam::TorsoPoint& place) const noexcept {
  switch (place.aspect) {
    case Aspect::kBack:
      return (place.u >= 0.0 ? det::kPi : -det::kPi) - arcsine(place.u);
    case Aspect::kLeftSide:
      return 0.5 * det::kPi + kSidePerU_rad * place.u;
    case Aspect::kRightSide:
      return -0.5 * det::kPi - kSidePerU_rad * place.u;
    default:
      return arcsine(place.u);
  }
}
double SkinMap::height_cm(const exam::TorsoPoint& place) const noexcept {
  return place.aspect == Aspect::kBack ? back_height_cm(place.v) : front_height_cm(place.v);
}

std::optional<SkinSpot> SkinMap::to_skin(const exam::TorsoPoint& place) const noexcept {
  return at(angle_rad(place), height_cm(place));
}

std::optional<SkinSpot> SkinMap::at(double angle_rad, double height_cm) const noexcept {
  const Section s = section(height_cm);
  const Point from{0.0f, static_cast<float>(s.middle_y_cm), static_cast<float>(height_cm)};
  const Point ray{static_cast<float>(s.half_breadth_cm * det::sin(angle_rad)),
                  static_cast<float>(s.half_depth_cm * det::cos(angle_rad)), 0.0f};
  std::optional<SkinSpot> out;
  double furthest = 0.0;  // where skin folds, the outermost is what a chestpiece touches
  for (const std::uint32_t i : trunk_) {
    const Triangle& t = figure_->triangles[i];
    const Point a = figure_->at[t[0]], b = figure_->at[t[1]], c = figure_->at[t[2]];
    const float z = from.z;
    if ((a.z > z && b.z > z && c.z > z) || (a.z < z && b.z < z && c.z < z)) continue;
    const auto m = meets(from, ray, a, b, c);
    if (!m || m->far <= furthest) continue;
    furthest = m->far;
    out = spot_of(i, *m);
  }
  return out;
}

Point SkinMap::point(const SkinSpot& spot, const std::vector<Point>& at) const noexcept {
  const Triangle& t = figure_->triangles[spot.triangle];
  return (1.0f - spot.along_1 - spot.along_2) * at[t[0]] + spot.along_1 * at[t[1]] +
         spot.along_2 * at[t[2]];
}

}  // namespace phren::acoustics
