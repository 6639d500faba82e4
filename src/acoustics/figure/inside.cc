#include "acoustics/figure/inside.h"

#include "acoustics/figure/plane.h"

namespace phren::acoustics {
namespace {

constexpr std::uint32_t kRing = 26, kBaseRows = 4, kWallRows = 16;
constexpr std::uint32_t kOuter = 17;  // of a ring, along the ribs; the rest along the middle
float f(double x) noexcept {
  return static_cast<float>(x);
}

Point unit(Point p) noexcept {
  const double length = det::sqrt(static_cast<double>(dot(p, p)));
  return length > 0.0 ? f(1.0 / length) * p : p;
}

}  // namespace

Inside::Inside(const Figure& figure, const SkinMap& map, const Ribs& ribs)
    : figure_(&figure), map_(&map), ribs_(&ribs), torso_(figure.person) {
  low_cm_ = ribs.lung_border_cm(det::kPi);
  for (const std::size_t k : {0u, 1u}) {
    const Section s = map.section(-6.0 * ribs.scale());
    root_[k] = {f((k == 0 ? -0.22 : 0.22) * s.half_breadth_cm),
                f(s.middle_y_cm - 0.1 * s.half_depth_cm), f(-8.0 * ribs.scale())};
  }
  for (const Organ part : {Organ::kPleura, Organ::kLung}) {
    add_lung(-1.0, part);
    add_lung(1.0, part);
  }
  add_ribs();
  add_airways();
  add_ball(Organ::kHeart, of_torso(torso_.heart()),
           {f(4.3 * ribs.scale()), f(3.6 * ribs.scale()), f(5.2 * ribs.scale())});
  add_diaphragm();
  at_ = rest_;
  set_normals(at_, triangles_, normal_);
}

// A point of the sound's torso (an elliptic cylinder) at the same share of the figure's chest.
Point Inside::of_torso(const Vec3& place) const noexcept {
  const patient::Person& p = figure_->person;
  const double v = -place.z / torso_.notch_to_nipple_cm();
  const double height = map_->front_height_cm(v);
  const Section s = map_->section(std::min(height, -1.0));
  const double narrow = place.z > 0.0 ? 0.5 : 0.9;
  return {f(narrow * place.x / p.half_chest_breadth_cm * s.half_breadth_cm),
          f(map_->section(height).middle_y_cm +
            narrow * place.y / (0.5 * p.chest_depth_cm) * map_->section(height).half_depth_cm),
          f(height)};
}

// Where the cage closes above the first rib: higher behind than in front.
double Inside::top_cm(double angle_rad) const noexcept {
  return ribs_->height_cm(1.0, angle_rad) + 2.2 * ribs_->scale();
}

// The inner side of the chest wall, `inset` cm further in; closing towards the apex.
Point Inside::wall(double angle_rad, double height_cm, double inset) const noexcept {
  const double size = ribs_->scale();
  const double full = ribs_->height_cm(5.0, angle_rad), top = top_cm(angle_rad);
  const double up = ramp(height_cm, full, top);
  const double taper = det::sqrt(std::max(0.0, 1.0 - up * up));
  const Section s = map_->section(std::min(height_cm, -7.0 * size));
  const patient::Person& p = figure_->person;
  const double c = det::cos(angle_rad), sine = det::sin(angle_rad);
  const double thick = c > 0.0 ? p.wall_front_cm : p.wall_back_cm;
  const double breadth = s.half_breadth_cm - 0.55 * p.wall_side_cm - inset;
  const double depth = s.half_depth_cm - 0.75 * thick - inset;
  const double axis = 0.42 * s.half_breadth_cm * (sine < 0.0 ? -1.0 : 1.0) * (1.0 - taper);
  return {f(breadth * sine * taper + axis), f(s.middle_y_cm + depth * c * taper), f(height_cm)};
}

void Inside::add_grid(Organ part, std::uint32_t first, std::uint32_t rows, std::uint32_t columns) {
  for (std::uint32_t r = 0; r + 1 < rows; ++r) {
    for (std::uint32_t c = 0; c < columns; ++c) {
      const std::uint32_t a = first + r * columns + c, b = first + r * columns + (c + 1) % columns;
      triangles_.push_back({a, b, b + columns});
      triangles_.push_back({a, b + columns, a + columns});
    }
  }
  while (part_.size() < rest_.size()) part_.push_back(part);
  while (fissure_.size() < rest_.size()) {
    const Point p = rest_[fissure_.size()];
    const double angle = map_->angle_at(p), z = static_cast<double>(p.z);
    fissure_.push_back(
        {f(z - ribs_->oblique_fissure_cm(angle)), f(z - ribs_->horizontal_fissure_cm(angle))});
  }
}

// Rings from the middle of the base over the dome's rim and up the wall to the apex.
void Inside::add_lung(double side, Organ part) {
  const auto first = static_cast<std::uint32_t>(rest_.size());
  const double size = ribs_->scale(), inset = part == Organ::kPleura ? 0.1 * size : 0.3 * size;
  const auto top = [&](double a) { return std::min(ribs_->apex_cm(), top_cm(a) - 0.25 * size); };
  const double dome = ribs_->height_cm(side < 0.0 ? 5.0 : 5.4, 0.6);
  const Section s = map_->section(-12.0 * size);
  const auto edge = [&](std::uint32_t k, double share) {
    // The heart takes the front of the left lung from rib 4 to 6.
    const double guess = blend(ribs_->height_cm(6.0, 0.5), top(0.5), share);
    const double heart = side > 0.0 ? 0.30 * smooth_ramp(-guess, 8.0 * size, 12.5 * size) : 0.0;
    const double from = arcsine(0.14 + heart), to = det::kPi - arcsine(0.20);
    if (k < kOuter) {
      const double a = side * blend(from, to, static_cast<double>(k) / (kOuter - 1));
      return wall(a, blend(ribs_->lung_border_cm(a), top(a), share), inset);
    }
    const double t = static_cast<double>(k - kOuter + 1) / (kRing - kOuter + 1);
    const Point back =
        wall(side * to, blend(ribs_->lung_border_cm(side * to), top(to), share), inset);
    const Point front =
        wall(side * from, blend(ribs_->lung_border_cm(side * from), top(from), share), inset);
    Point p = back + f(t) * (front - back);
    p.x += f(side * 0.10 * s.half_breadth_cm * det::sin(det::kPi * t));
    return p;
  };
  Point centre;
  for (std::uint32_t k = 0; k < kRing; ++k) centre = centre + (1.0f / kRing) * edge(k, 0.0);
  centre.z = f(dome);
  for (std::uint32_t r = 0; r < kBaseRows; ++r) {
    const double out = static_cast<double>(r) / kBaseRows;
    for (std::uint32_t k = 0; k < kRing; ++k) {
      const Point rim = edge(k, 0.0);
      Point p = centre + f(out) * (rim - centre);
      p.z = f(blend(static_cast<double>(rim.z), dome, det::sqrt(1.0 - out * out)));
      rest_.push_back(p);
    }
  }
  for (std::uint32_t r = 0; r <= kWallRows; ++r) {
    const double share = static_cast<double>(r) / kWallRows;
    for (std::uint32_t k = 0; k < kRing; ++k) rest_.push_back(edge(k, share * (2.0 - share)));
  }
  const std::size_t begun = triangles_.size();
  add_grid(part, first, kBaseRows + kWallRows + 1, kRing);
  if (side > 0.0) {  // the left ring runs the other way round
    for (std::size_t i = begun; i < triangles_.size(); ++i)
      std::swap(triangles_[i][1], triangles_[i][2]);
  }
}

void Inside::add_tube(Organ part, const std::vector<Point>& line, double wide_cm, double deep_cm) {
  constexpr std::uint32_t kSides = 8;
  const auto first = static_cast<std::uint32_t>(rest_.size());
  for (std::size_t i = 0; i < line.size(); ++i) {
    const Point along = unit(line[std::min(i + 1, line.size() - 1)] - line[i > 0 ? i - 1 : 0]);
    const Point middle{0.0f, f(map_->section(static_cast<double>(line[i].z)).middle_y_cm),
                       line[i].z};
    Point out = line[i] - middle;
    out = unit(out - dot(out, along) * along);
    const Point up = cross(along, out);
    for (std::uint32_t k = 0; k < kSides; ++k) {
      const double a = det::kTwoPi * k / kSides;
      rest_.push_back(line[i] + f(deep_cm * det::cos(a)) * out + f(wide_cm * det::sin(a)) * up);
    }
  }
  add_grid(part, first, static_cast<std::uint32_t>(line.size()), kSides);
}

void Inside::add_ribs() {
  const double size = ribs_->scale();
  constexpr int kSteps = 22;
  for (const double side : {-1.0, 1.0}) {
    for (int n = 1; n <= 12; ++n) {
      const double end = ribs_->front_end_rad(n),
                   cartilage = n > 10 ? end : std::max(end, 0.8 * ribs_->midclavicular_rad());
      std::vector<Point> bone, soft;
      for (int i = 0; i <= kSteps; ++i) {
        const double a = blend(det::kPi - 0.13, end, static_cast<double>(i) / kSteps);
        const Point p = wall(side * a, ribs_->height_cm(n, a), -0.35 * size);
        if (a >= cartilage - 0.03) bone.push_back(p);
        if (a <= cartilage + 0.03) soft.push_back(p);
      }
      if (bone.size() > 1) add_tube(Organ::kBone, bone, 0.62 * size, 0.32 * size);
      if (soft.size() > 1) add_tube(Organ::kCartilage, soft, 0.55 * size, 0.30 * size);
    }
    const Point inner = figure_->of(Landmark::kSternoclavicularJoint, side < 0.0);
    const Point outer = figure_->of(Landmark::kAcromion, side < 0.0);
    const Point in{0.0f, f(-0.8 * size), f(-0.5 * size)};
    std::vector<Point> collar;
    for (int i = 0; i <= 8; ++i) {
      const double t = i / 8.0;
      Point p = inner + f(t) * (outer - inner) + in;
      p.y += f(1.1 * size * det::sin(det::kTwoPi * t));
      collar.push_back(p);
    }
    add_tube(Organ::kBone, collar, 0.6 * size, 0.6 * size);
  }
  std::vector<Point> breastbone, spine;
  for (int i = 0; i <= 8; ++i) {
    const double z =
        blend(-0.3 * size, static_cast<double>(figure_->of(Landmark::kXiphoidTip).z), i / 8.0);
    breastbone.push_back(wall(0.001, std::min(z, -0.2), -0.4 * size));
    breastbone.back().x = 0.0f;
    breastbone.back().y = f(map_->section(z).middle_y_cm + map_->section(z).half_depth_cm -
                            0.75 * figure_->person.wall_front_cm);
  }
  add_tube(Organ::kBone, breastbone, 1.7 * size, 0.4 * size);
  for (int i = 0; i <= 14; ++i) {
    const double z = blend(static_cast<double>(figure_->of(Landmark::kC7).z),
                           static_cast<double>(figure_->of(Landmark::kL4).z), i / 14.0);
    const Section s = map_->section(z);
    spine.push_back(
        {0.0f, f(s.middle_y_cm - s.half_depth_cm + 0.8 * figure_->person.wall_back_cm + 0.9 * size),
         f(z)});
  }
  add_tube(Organ::kBone, spine, 1.5 * size, 1.5 * size);
}

void Inside::add_airways() {
  const double size = ribs_->scale();
  const Point larynx = of_torso(torso_.larynx());
  const Vec3 fork{0.0, 0.0, -0.40 * torso_.notch_to_nipple_cm()};
  const Point carina = of_torso(fork);
  std::vector<Point> trachea;
  for (int i = 0; i <= 6; ++i) trachea.push_back(larynx + f(i / 6.0) * (carina - larynx));
  add_tube(Organ::kAirway, trachea, 0.95 * size, 0.95 * size);
  for (std::size_t k = 0; k < exam::kNumLobes; ++k) {
    const Point end = of_torso(torso_.bronchus(static_cast<exam::Lobe>(k)));
    const Point root = root_[k < 3 ? 0 : 1];
    std::vector<Point> line;
    for (int i = 0; i <= 6; ++i) {
      const float t = f(i / 6.0), s = 1.0f - t;
      const Point bend = 0.5f * (root + end);
      line.push_back(s * s * carina + 2.0f * s * t * bend + t * t * end);
    }
    add_tube(Organ::kAirway, line, 0.55 * size, 0.55 * size);
    // On into the lobe, thinner.
    Point deep = end + 0.9f * (end - root) +
                 Point{0.0f, 0.0f, k == 0 || k == 3 ? f(1.5 * size) : f(-1.5 * size)};
    add_tube(Organ::kAirway, {end, 0.5f * (end + deep), deep}, 0.32 * size, 0.32 * size);
  }
}

void Inside::add_ball(Organ part, Point centre, Point half) {
  constexpr std::uint32_t kRows = 12, kColumns = 18;
  const auto first = static_cast<std::uint32_t>(rest_.size());
  for (std::uint32_t r = 0; r <= kRows; ++r) {
    const double b = det::kPi * (static_cast<double>(r) / kRows - 0.5);
    for (std::uint32_t c = 0; c < kColumns; ++c) {
      const double a = det::kTwoPi * c / kColumns;
      const double x = det::cos(b) * det::cos(a), y = det::cos(b) * det::sin(a), z = det::sin(b);
      // Its point lies low, to the left and in front.
      const double low = z < 0.0 ? -z : 0.0;
      rest_.push_back(centre + Point{f(x * (1.0 - 0.35 * low) + 0.55 * low - 0.10) * half.x,
                                     f(y * (1.0 - 0.30 * low) + 0.25 * low) * half.y,
                                     f(z) * half.z});
    }
  }
  add_grid(part, first, kRows + 1, kColumns);
}

void Inside::add_diaphragm() {
  constexpr std::uint32_t kRows = 7, kColumns = 40;
  const auto first = static_cast<std::uint32_t>(rest_.size());
  const double size = ribs_->scale();
  for (std::uint32_t r = 0; r < kRows; ++r) {
    const double out = 0.02 + 0.98 * static_cast<double>(r) / (kRows - 1);
    for (std::uint32_t c = 0; c < kColumns; ++c) {
      const double a = det::kTwoPi * c / kColumns - det::kPi;
      const double rim = std::max(ribs_->margin_cm(a), ribs_->lung_border_cm(a) - 4.0 * size);
      Point p = wall(a, rim, 0.15 * size);
      const Section s = map_->section(rim);
      const double x = out * static_cast<double>(p.x);
      // Two domes with the heart's seat between.
      const double across = x / s.half_breadth_cm;
      const double dome = ribs_->height_cm(x < 0.0 ? 5.0 : 5.5, 0.6) - 0.8 * size -
                          2.0 * size * det::exp(-across * across / 0.03);
      rest_.push_back({f(x), f(s.middle_y_cm + out * (static_cast<double>(p.y) - s.middle_y_cm)),
                       f(blend(rim, dome, det::sqrt(std::max(0.0, 1.0 - out * out))))});
    }
  }
  add_grid(Organ::kDiaphragm, first, kRows, kColumns);
}

void Inside::move(const BreathNow& breath, const std::array<double, exam::kNumLobes>& rest_L,
                  const std::array<double, 2>& fluid_L, double shift) {
  std::array<float, 2> scale{};
  for (const std::size_t k : {0u, 1u}) {
    double lung_L = 0.0, usual_L = 0.0;
    for (std::size_t i = k == 0 ? 0 : 3; i < (k == 0 ? 3u : 5u); ++i) {
      lung_L += breath.lobe_L[i];
      usual_L += rest_L[i];
    }
    // Tissue and blood stay when the gas is gone: about a quarter of a lung at rest (ours).
    const double tissue_L = 0.25 * usual_L;
    const double chest_L = lung_L + tissue_L + breath.pleural_L[k];
    gap_[k] = breath.pleural_L[k] / chest_L;
    scale[k] = f(det::pow((lung_L + tissue_L) / chest_L, 1.0 / 3.0));
    // The lower part of the chest is the wider: height goes with volume to 0.8 (ours).
    const double share = std::min(1.0, fluid_L[k] / chest_L);
    const double top = ribs_->apex_cm();
    fluid_cm_[k] = share < 0.01 ? -1000.0 : blend(low_cm_, top, det::pow(share, 0.8));
  }
  const float aside = f(2.2 * ribs_->scale() * shift);
  for (std::size_t i = 0; i < rest_.size(); ++i) {
    Point p = rest_[i];
    const std::size_t k = p.x < 0.0f ? 0 : 1;
    const float middle = f(
        1.0 - smooth_ramp(static_cast<double>(p.x < 0.0f ? -p.x : p.x), 1.0, 9.0 * ribs_->scale()));
    switch (part_[i]) {
      case Organ::kLung:
        p = root_[k] + scale[k] * (p - root_[k]);
        p.x += aside * (scale[k] < 0.98f ? 1.0f : middle);
        break;
      case Organ::kHeart:
      case Organ::kAirway:
        p.x +=
            aside * (p.z > 0.0f ? f(1.0 - ramp(static_cast<double>(p.z), 0.0, 7.0 * ribs_->scale()))
                                : 1.0f);
        break;
      default:
        break;
    }
    at_[i] = p;
  }
  set_normals(at_, triangles_, normal_);
}

}  // namespace phren::acoustics
