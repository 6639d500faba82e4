#include "acoustics/figure/motion.h"

#include "acoustics/figure/plane.h"
#include "patient/body.h"

namespace phren::acoustics {
namespace {

constexpr double kCm3PerL = 1000.0;

// How much of each zone's expansion is that of each lobe: upper, middle, lower.
constexpr std::array<std::array<double, 3>, 3> kRightLobesOfZone{
    {{1.0, 0.0, 0.0}, {0.25, 0.55, 0.2}, {0.0, 0.15, 0.85}}};
constexpr std::array<std::array<double, 2>, 3> kLeftLobesOfZone{
    {{1.0, 0.0}, {0.8, 0.2}, {0.1, 0.9}}};
constexpr std::array<double, 3> kZoneShare{0.3, 0.35, 0.35};
constexpr double kFlail_L = 0.12;          // an adult's piece of a hand's size, 15 mm in (motion.h)
constexpr double kRibsWithParadox = 1.35;  // of the breath, at the worst (ENGINEERING)

double bump(double x, double width) noexcept {
  return det::exp(-x * x / (width * width));
}
float f(double x) noexcept {
  return static_cast<float>(x);
}

// Distance from a straight piece, and how far along it (0..1).
std::array<double, 2> from_line(Point p, Point a, Point b) noexcept {
  const Point d = b - a, q = p - a;
  const double length2 = static_cast<double>(dot(d, d));
  const double t = std::clamp(static_cast<double>(dot(q, d)) / length2, 0.0, 1.0);
  const Point off = q - f(t) * d;
  return {det::sqrt(static_cast<double>(dot(off, off))), t};
}

}  // namespace

Motion::Motion(const Figure& figure, const SkinMap& map, const Ribs& ribs)
    : figure_(&figure), map_(&map), ribs_(&ribs), at_(figure.at), normal_(figure.normal) {
  const double frc_L = patient::reference_of(figure.person).frc_L;
  for (std::size_t i = 0; i < rest_L_.size(); ++i) rest_L_[i] = frc_L * patient::kLobeShare[i];
  make_fields();
}

double Motion::rib_share(double lying) const noexcept {
  const double grown = blend(0.65, 0.40, lying);
  const double months = 12.0 * figure_->person.age_years;
  const double infant = std::min(grown, 0.33 + 0.014 * months);
  return blend(infant, grown, ramp(months, 9.0, 18.0));
}

void Motion::make_fields() {
  const Figure& g = *figure_;
  for (Moves& moves : field_) moves.assign(g.at.size(), Point{});
  const double size = ribs_->scale();
  const double age = g.person.age_years;
  const double baby = 1.0 - ramp(age, 0.5, 6.0);
  const Point notch = g.of(Landmark::kJugularNotch), joint = g.of(Landmark::kSternoclavicularJoint);
  const Point clavicle = g.of(Landmark::kMidclavicularPoint), navel = g.of(Landmark::kNavel);
  const Point head = g.of(Joint::kHead), mouth = g.of(Joint::kMouth), eye = g.of(Joint::kEye);
  const double neck_cm = static_cast<double>(head.z);
  for (std::size_t i = 0; i < g.at.size(); ++i) {
    const Point p = g.at[i], n = g.normal[i];
    const double x = static_cast<double>(p.x), z = static_cast<double>(p.z);
    const double arm = static_cast<double>(g.share(Plane::kArm, i));
    const double face = static_cast<double>(g.share(Plane::kHead, i));
    const double shoulder = static_cast<double>(g.share(Plane::kShoulder, i));
    const double trunk = (1.0 - face) * (1.0 - arm);
    const Point mirror{x < 0.0 ? -p.x : p.x, p.y, p.z};
    if (trunk > 0.0) {
      const double a = map_->angle_at(p), size_a = a < 0.0 ? -a : a;
      const double s = det::sin(a), c = det::cos(a);
      const double rib = ribs_->number_at(z, a);
      const double margin = ribs_->margin_cm(a);
      const double cage = trunk * smooth_ramp(z, margin - 5.0 * size, margin + 1.5 * size) *
                          (1.0 - smooth_ramp(z, 0.5 * size, 4.5 * size)) * (1.0 - 0.6 * shoulder);
      const double to_front = 0.12 + 0.88 * (1.0 - smooth_ramp(size_a, 1.6, 2.7));
      const double low = ramp(rib, 2.0, 8.0);
      const Point way{f(to_front * s * blend(0.45, 1.0, low)),
                      f(to_front * (c > 0.0 ? c : 0.35 * c) * blend(1.0, 0.8, low)),
                      f(to_front * blend(0.55, 0.15, low))};
      const double middle = smooth_ramp(rib, 2.6, 4.4), lower = smooth_ramp(rib, 5.2, 7.0);
      const std::array<double, kZones> zone{1.0 - middle, middle * (1.0 - lower), middle * lower};
      const double left = smooth_ramp(x, -1.2 * size, 1.2 * size);
      for (std::size_t k = 0; k < kZones; ++k) {
        field_[kRightZone + k][i] = f(cage * zone[k] * (1.0 - left)) * way;
        field_[kLeftZone + k][i] = f(cage * zone[k] * left) * way;
      }
      const double loose = cage * bump(rib - 5.3, 1.7) * bump(size_a - 0.95, 0.5);
      field_[kRightFlail][i] = f(loose * (1.0 - left)) * n;
      field_[kLeftFlail][i] = f(loose * left) * n;
      const double floor_cm = static_cast<double>(navel.z) - 9.0 * size;
      const double belly =
          trunk * (1.0 - smooth_ramp(z, margin - 2.0 * size, margin + 2.5 * size)) *
          smooth_ramp(z, floor_cm, floor_cm + 9.0 * size) * (1.0 - smooth_ramp(size_a, 0.9, 1.9));
      field_[kBelly][i] = Point{f(belly * 0.4 * s), f(belly * (c > 0.0 ? c : 0.0)), 0.0f};
      // Drawn in: the spaces between ribs (not where fat hides them), and beside and above the notch.
      const double between = 0.5 - 0.5 * det::cos(det::kTwoPi * rib);
      const double lean = 1.0 - smooth_ramp(g.person.wall_side_cm, 2.6, 4.5);
      const double spaces = cage * between * lean * smooth_ramp(rib, 1.2, 3.0) *
                            (1.0 - smooth_ramp(rib, 9.2, 10.5)) * smooth_ramp(size_a, 0.25, 0.6) *
                            (1.0 - smooth_ramp(size_a, 1.8, 2.5));
      const double at_notch =
          bump(x, 1.3 * size) * bump(z - 0.8 * size, 1.2 * size) * (c > 0.0 ? 1.0 : 0.0);
      const auto [off, along] = from_line(mirror, joint, clavicle);
      (void)along;
      const double above = c > 0.0 && z > 0.0
                               ? bump(off - 1.8 * size, 1.5 * size) *
                                     smooth_ramp(x < 0.0 ? -x : x, 1.5 * size, 3.0 * size)
                               : 0.0;
      const double in = blend(0.22, 0.40, baby) * spaces +
                        blend(0.5, 0.6, baby) * size * trunk * (at_notch + 0.8 * above);
      field_[kSpaces][i] = f(-in) * n;
      const double rim = margin - 1.5 * size;
      const double under = trunk * bump(z - rim, 2.2 * size) *
                           (1.0 - smooth_ramp(size_a, 1.1, 1.7)) * (c > 0.0 ? 1.0 : 0.0);
      field_[kSubcostal][i] = f(-blend(0.5, 0.55, baby) * under) * n;
      const double lifted =
          std::max(shoulder, arm) + trunk * bump(z - static_cast<double>(clavicle.z), 2.5 * size) *
                                        (c > 0.0 ? 1.0 : 0.3) *
                                        smooth_ramp(x < 0.0 ? -x : x, 2.0 * size, 5.0 * size);
      field_[kShoulders][i] = Point{0.0f, 0.0f, f(0.8 * size * std::min(1.0, lifted))};
      // From behind the ear to the collar bone's inner end.
      const Point mastoid{
          f(0.95) * eye.x * 2.0f, head.y - 0.2f * (eye.y - head.y),
          f(static_cast<double>(head.z) + 0.15 * (static_cast<double>(eye.z - head.z)))};
      const auto [cord, up] = from_line(mirror, joint, mastoid);
      field_[kCords][i] = f((1.0 - face) * 0.45 * size * bump(cord, 1.2 * size) *
                            smooth_ramp(up, 0.0, 0.15) * (1.0 - smooth_ramp(up, 0.75, 1.0))) *
                          n;
      const double neck = smooth_ramp(z, -8.0 * size, 1.0 * size);
      field_[kAir][i] = f(trunk * 1.1 * size * neck * (1.0 - 0.5 * shoulder)) * n;
      const double pipe = (1.0 - face) * smooth_ramp(z, -0.5, 1.2 * size) *
                          (1.0 - smooth_ramp(z, 0.45 * neck_cm, 0.8 * neck_cm)) *
                          (c > 0.3 ? 1.0 : 0.0);
      const double right_edge = bump(x - 1.3 * size, 0.9 * size) - bump(x + 1.3 * size, 0.9 * size);
      field_[kTrachea][i] = f(pipe * 0.35 * size * right_edge) * n;
    } else {
      field_[kAir][i] =
          f(face *
            (1.0 - smooth_ramp(z, static_cast<double>(mouth.z), static_cast<double>(eye.z))) * 0.5 *
            size * (n.y > 0.3f ? 0.5 : 1.0)) *
          n;
    }
    const double lid =
        face * bump(z - static_cast<double>(eye.z), 0.75 * static_cast<double>(eye.x)) *
        bump((x < 0.0 ? -x : x) - static_cast<double>(eye.x), 0.8 * static_cast<double>(eye.x)) *
        (p.y > eye.y - 0.5f * eye.x ? 1.0 : 0.0) *
        (1.0 - static_cast<double>(g.share(Plane::kEye, i)));
    const double lips = static_cast<double>(g.share(Plane::kLip, i));
    field_[kSwelling][i] = f((0.45 * lips + 0.28 * lid) * size) * n;
    // The wings of the nose, half way between eye and mouth.
    const double nose_z =
        0.35 * static_cast<double>(eye.z) + 0.65 * static_cast<double>(mouth.z) + 0.0;
    const double wing = face * bump(z - nose_z - 0.2 * size, 0.9 * size) *
                        bump((x < 0.0 ? -x : x) - 0.55 * static_cast<double>(eye.x),
                             0.35 * static_cast<double>(eye.x)) *
                        (p.y > eye.y + 0.4f * eye.x ? 1.0 : 0.0);
    field_[kNostrils][i] = Point{f((x < 0.0 ? -1.0 : 1.0) * 0.22 * size * wing), 0.0f, 0.0f};
    (void)notch;
  }
  for (std::size_t k = 0; k <= kLeftFlail; ++k) normalise(static_cast<Field>(k));
  growth_ = {growth(kRightZone, kZones), growth(kLeftZone, kZones), growth(kBelly, 1)};
}

// So that one unit sweeps one litre.
void Motion::normalise(Field field) {
  double swept_cm3 = 0.0;
  for (const Triangle& t : figure_->triangles) {
    const Point a = figure_->at[t[0]];
    const Point area = cross(figure_->at[t[1]] - a, figure_->at[t[2]] - a);
    for (const std::uint32_t v : t)
      swept_cm3 += static_cast<double>(dot(area, field_[field][v])) / 6.0;
  }
  const float k = f(kCm3PerL / std::max(1.0, swept_cm3));
  for (Point& p : field_[field]) p = k * p;
}

// Swept volume is x + c x^2 for a move of x litres: c, per litre.
double Motion::growth(Field first, std::size_t count) const {
  constexpr double kMove_L = 1.0;
  const std::vector<Point>& at = figure_->at;
  std::vector<Point> after = at;
  for (std::size_t k = 0; k < count; ++k) {
    const float share = f(count == 1 ? kMove_L : kMove_L * kZoneShare[k]);
    for (std::size_t i = 0; i < at.size(); ++i) after[i] = after[i] + share * field_[first + k][i];
  }
  double swept_cm3 = 0.0;
  for (const Triangle& t : figure_->triangles) {
    const Point before_area = cross(at[t[1]] - at[t[0]], at[t[2]] - at[t[0]]);
    const Point after_area = cross(after[t[1]] - after[t[0]], after[t[2]] - after[t[0]]);
    Point way;
    for (const std::uint32_t v : t) way = way + (after[v] - at[v]);
    swept_cm3 += static_cast<double>(dot(before_area + after_area, way)) / 12.0;
  }
  return swept_cm3 / kCm3PerL - kMove_L;
}

// The move that sweeps `volume_L`.
double Motion::move_for(double volume_L, double c) noexcept {
  const double root = 1.0 + 4.0 * c * volume_L;
  if (c < 1e-6 || root <= 0.0) return volume_L;
  return (det::sqrt(root) - 1.0) / (2.0 * c);
}

void Motion::move(const BreathNow& breath, const patient::Signs& signs, const Pose& pose) {
  std::array<double, exam::kNumLobes> more{};
  std::array<double, 2> side{breath.pleural_L[0], breath.pleural_L[1]};
  for (std::size_t i = 0; i < more.size(); ++i) {
    more[i] = breath.lobe_L[i] - rest_L_[i];
    side[exam::side_of(static_cast<exam::Lobe>(i)) == exam::Side::kLeft ? 1 : 0] += more[i];
  }
  const double ribs = blend(rib_share(pose.lying), kRibsWithParadox, signs.abdominal_paradox);
  const double effort = std::max(0.0, breath.effort_cmH2O);
  usual_pull_cmH2O_ = std::max({2.0, effort, usual_pull_cmH2O_ * 0.998});
  pull_ = effort / usual_pull_cmH2O_;
  amount_.fill(0.0);
  for (std::size_t k = 0; k < 2; ++k) {
    side_L_[k] = ribs * side[k];
    const std::size_t lobes = k == 0 ? 3 : 2, first = k == 0 ? 0 : 3;
    double whole = 0.0;
    for (std::size_t l = 0; l < lobes; ++l) whole += patient::kLobeShare[first + l];
    // A zone opens as its lobes do; what is left over (gas and fluid outside the lung) opens all.
    std::array<double, kZones> opening{};
    double taken = 0.0;
    for (std::size_t zone = 0; zone < kZones; ++zone) {
      for (std::size_t l = 0; l < lobes; ++l) {
        const double share = k == 0 ? kRightLobesOfZone[zone][l] : kLeftLobesOfZone[zone][l];
        opening[zone] += share * more[first + l] * whole / patient::kLobeShare[first + l];
      }
      taken += kZoneShare[zone] * opening[zone];
    }
    const double size = ribs_->scale();
    const double sinks_L = kFlail_L * size * size * size * signs.flail[k] * pull_;
    amount_[kRightFlail + k] = -pose.plain * sinks_L;
    const double volume = ribs * side[k] + sinks_L;
    const double less = volume == 0.0 ? 1.0 : move_for(volume, growth_[k]) / volume;
    for (std::size_t zone = 0; zone < kZones; ++zone) {
      amount_[(k == 0 ? kRightZone : kLeftZone) + zone] =
          pose.plain * less * kZoneShare[zone] *
          (ribs * (opening[zone] + side[k] - taken) + sinks_L);
    }
  }
  belly_L_ = (1.0 - ribs) * (side[0] + side[1]);
  amount_[kBelly] = pose.plain * move_for(belly_L_, growth_[2]);
  add_signs(signs, pose.plain);
  at_ = figure_->at;
  for (std::size_t k = 0; k < kFields; ++k) {
    const float amount = f(amount_[k]);
    if (amount == 0.0f) continue;
    const Moves& moves = field_[k];
    for (std::size_t i = 0; i < at_.size(); ++i) at_[i] = at_[i] + amount * moves[i];
  }
  set_arms(pose, signs.tripod ? 1.0 : 0.0);
  set_normals(at_, figure_->triangles, normal_);
}

void Motion::add_signs(const patient::Signs& signs, double plain) {
  amount_[kSpaces] = plain * signs.retractions * pull_;
  amount_[kSubcostal] = plain * signs.retractions * pull_;
  amount_[kShoulders] = plain * signs.accessory_muscles * pull_ + (signs.tripod ? 1.2 : 0.0);
  amount_[kCords] = plain * signs.accessory_muscles * (0.4 + 0.6 * pull_);
  amount_[kNostrils] = plain * signs.nasal_flaring * pull_;
  amount_[kAir] = signs.subcutaneous_air;
  amount_[kTrachea] = signs.tracheal_deviation;
  amount_[kSwelling] = signs.angioedema;
}

void Motion::set_arms(const Pose& pose, double tripod) {
  const double forward = std::max(1.15 * pose.arms_forward, 0.5 * tripod);
  const double down = blend(0.52, 0.25, std::min(1.0, forward));
  const Figure& g = *figure_;
  for (const bool is_right : {false, true}) {
    const Point pivot = g.of(Joint::kShoulder, is_right);
    const float side = is_right ? -1.0f : 1.0f;
    for (std::size_t i = 0; i < at_.size(); ++i) {
      if ((g.at[i].x < 0.0f) != is_right) continue;
      const double arm = static_cast<double>(g.share(Plane::kArm, i));
      const double shoulder = static_cast<double>(g.share(Plane::kShoulder, i));
      const double whole = std::min(1.0, arm + 0.40 * shoulder);
      if (whole <= 0.0) continue;
      const double a = down * whole, b = forward * whole;
      const float ca = f(det::cos(a)), sa = f(det::sin(a)), cb = f(det::cos(b)),
                  sb = f(det::sin(b));
      const Point d = at_[i] - pivot;
      const float out = side * d.x;
      const Point turned{side * (ca * out + sa * d.z), d.y, ca * d.z - sa * out};
      at_[i] =
          pivot + Point{turned.x, cb * turned.y - sb * turned.z, cb * turned.z + sb * turned.y};
    }
  }
}

}  // namespace phren::acoustics
