#include "acoustics/figure/figure.h"

#include "acoustics/figure/plane.h"
#include "acoustics/figure/refine.h"

namespace phren::acoustics {
namespace {

constexpr double kDensity_kg_per_L = 1.0;

double stature_dm(const Corner& c) noexcept {
  return static_cast<double>(c.crown_dm - c.floor_dm);
}

// Mass of the body at the person's height, for one mix.
double mass_kg(const Mould& mould, const Mix& mix, double height_cm) noexcept {
  const Corner c = mixed_corner(mould, mix);
  const double s = 0.1 * height_cm / stature_dm(c);
  return kDensity_kg_per_L * static_cast<double>(c.litres) * s * s * s;
}

// Muscle as we count it (0.3 is usual) on the mould's scale, where 0.5 is average.
double mould_muscle(const patient::Person& p) noexcept {
  const double grown = 0.22 + 0.75 * p.muscle;
  return blend(0.45, grown, ramp(p.age_years, 6.0, 16.0));
}

// Weight first; where that is not enough, less muscle makes room for more fat, or for less of all.
Mix mix_of(const Mould& mould, const patient::Person& p) noexcept {
  Mix mix;
  const double girl = p.sex == patient::Sex::kFemale ? 1.0 : 0.0;
  mix.male = blend(0.5, 1.0 - girl, ramp(p.age_years, 2.0, 6.0));
  mix.age_years = p.age_years;
  mix.muscle = mould_muscle(p);
  mix.sag = 0.75 * ramp(p.age_years, 25.0, 75.0);
  const auto fit = [&](double& knob, double low, double high, bool grows) {
    for (int i = 0; i < 24; ++i) {
      knob = 0.5 * (low + high);
      const bool is_light = mass_kg(mould, mix, p.height_cm) < p.weight_kg;
      (is_light == grows ? low : high) = knob;
    }
  };
  fit(mix.weight, 0.0, 1.0, true);
  const bool is_heavy = mix.weight > 0.999, is_thin = mix.weight < 0.001;
  if (is_heavy) fit(mix.muscle, 0.02, mix.muscle, false);
  if (is_thin) fit(mix.muscle, 0.02, mix.muscle, true);
  return mix;
}

Point middle(const std::vector<Point>& at, const std::array<std::uint32_t, 2>& two) noexcept {
  return 0.5f * (at[two[0]] + at[two[1]]);
}

// An old back is bent: the spine turns forward about its middle, and the head is held up again.
void bend_spine(const Mould& mould, double age_years, std::vector<Point>& at) {
  const double bend = 0.30 * ramp(age_years, 62.0, 88.0);
  if (bend <= 0.0) return;
  const auto of = [&](Landmark which) {
    return middle(at, mould.landmark[static_cast<std::size_t>(which)]);
  };
  const Point low = of(Landmark::kT12), high = of(Landmark::kC7);
  const Point head = at[mould.vertices + static_cast<std::size_t>(Joint::kHead)];
  const float pivot_y = 0.6f * low.y;
  const double s = det::sin(0.75 * bend), c = det::cos(0.75 * bend);
  Point head_after = head;
  const auto bent = [&](Point p) {
    const double up =
        ramp(static_cast<double>(p.z), static_cast<double>(low.z), static_cast<double>(high.z));
    const double angle = bend * up * up * (1.5 - 0.5 * up);
    const float sa = static_cast<float>(det::sin(angle)), ca = static_cast<float>(det::cos(angle));
    const float dy = p.y - pivot_y, dz = p.z - low.z;
    return Point{p.x, pivot_y + ca * dy + sa * dz, low.z - sa * dy + ca * dz};
  };
  head_after = bent(head);
  const auto& is_head = mould.plane[static_cast<std::size_t>(Plane::kHead)];
  for (std::size_t i = 0; i < at.size(); ++i) {
    const Point turned = bent(at[i]);
    const std::size_t j = i - mould.vertices;
    const float held = i < mould.vertices ? is_head[i] : (j >= 3 ? 1.0f : 0.0f);
    if (held <= 0.0f) {
      at[i] = turned;
      continue;
    }
    const Point d = turned - head_after;
    const float cf = static_cast<float>(c), sf = static_cast<float>(s);
    const Point level = head_after + Point{d.x, cf * d.y - sf * d.z, sf * d.y + cf * d.z};
    at[i] = (1.0f - held) * turned + held * level;
  }
}

// The mould's nipples lie a little low on broad men and women: the front of the chest is drawn up
// (notch and navel stay) to where the survey of adults has them. A sunken old breast stays sunk.
void lift_front(const patient::Person& p, const Mould& mould, double notch_z,
                std::vector<Point>& at) {
  const bool is_man = p.sex == patient::Sex::kMale;
  const double grown =
      ramp(p.age_years, 16.0, 20.0) * (is_man ? 1.0 : 1.0 - ramp(p.age_years, 45.0, 65.0));
  const auto of = [&](Landmark which) {
    return static_cast<double>(middle(at, mould.landmark[static_cast<std::size_t>(which)]).z);
  };
  const double wanted_cm = is_man ? 2.01 + 0.0557 * p.height_cm + 0.0346 * p.weight_kg
                                  : 8.83 + 0.0094 * p.height_cm + 0.0803 * p.weight_kg;
  const double nipple = of(Landmark::kNipple), navel = of(Landmark::kNavel);
  const double lift = grown * (notch_z - wanted_cm - nipple);
  for (Point& q : at) {
    const double z = static_cast<double>(q.z);
    if (z > notch_z || z < navel) continue;
    const double share =
        z > nipple ? (notch_z - z) / (notch_z - nipple) : (z - navel) / (nipple - navel);
    const double front = smooth_ramp(static_cast<double>(q.y), -3.0, 5.0);
    q.z += static_cast<float>(lift * share * front);
  }
}

// In a small child the mould's last thoracic spine stands too high: it is looked for further down.
Point twelfth(const Mould& mould, double age_years, const std::vector<Point>& at) {
  const auto of = [&](Landmark which) {
    return middle(at, mould.landmark[static_cast<std::size_t>(which)]);
  };
  const double lower =
      blend(0.66, 0.26, ramp(age_years, 0.0, 1.0)) * (1.0 - ramp(age_years, 1.0, 7.0));
  return of(Landmark::kT12) + static_cast<float>(lower) * (of(Landmark::kL4) - of(Landmark::kT12));
}

}  // namespace

void set_normals(const std::vector<Point>& at, const std::vector<Triangle>& triangles,
                 std::vector<Point>& normal) {
  normal.assign(at.size(), Point{});
  for (const Triangle& t : triangles) {
    const Point n = cross(at[t[1]] - at[t[0]], at[t[2]] - at[t[0]]);
    for (const std::uint32_t v : t) normal[v] = normal[v] + n;
  }
  for (Point& n : normal) {
    const double length = det::sqrt(static_cast<double>(dot(n, n)));
    if (length > 0.0) n = static_cast<float>(1.0 / length) * n;
  }
}

Figure make_figure(const Mould& mould, const patient::Person& person) {
  const Mix mix = mix_of(mould, person);
  std::vector<Point> half = mixed(mould, mix);
  const Corner corner = mixed_corner(mould, mix);
  const double up = person.height_cm / stature_dm(corner);
  const double mass = mass_kg(mould, mix, person.height_cm);
  // Children of school age are broader in the mould than in life.
  const double slim =
      1.0 - 0.05 * ramp(person.age_years, 5.0, 9.0) * (1.0 - ramp(person.age_years, 13.0, 17.0));
  const double across = slim * std::clamp(det::sqrt(person.weight_kg / mass), 0.88, 1.22);
  for (Point& p : half) {
    p = {static_cast<float>(up * across) * p.x, static_cast<float>(up * across) * p.y,
         static_cast<float>(up) * p.z};
  }
  bend_spine(mould, person.age_years, half);
  const auto of = [&](Landmark which) {
    return middle(half, mould.landmark[static_cast<std::size_t>(which)]);
  };
  const Point notch = of(Landmark::kJugularNotch);
  const float back_y = of(Landmark::kT7).y, front_y = of(Landmark::kXiphisternalJoint).y;
  for (Point& p : half) p = p - Point{0.0f, 0.5f * (back_y + front_y), notch.z};
  lift_front(person, mould, 0.0, half);

  Figure out;
  out.person = person;
  out.stature_cm = person.height_cm;
  out.notch_height_cm = static_cast<double>(notch.z) - up * static_cast<double>(corner.floor_dm);
  for (std::size_t i = 0; i < kNumLandmarks; ++i) out.landmark[i] = middle(half, mould.landmark[i]);
  out.landmark[static_cast<std::size_t>(Landmark::kT12)] = twelfth(mould, person.age_years, half);
  for (std::size_t i = 0; i < kNumJoints; ++i) out.joint[i] = half[mould.vertices + i];
  half.resize(mould.vertices);
  const Whole whole = make_whole(mould);
  out.at = refined(whole, half);
  out.triangles = whole.triangles;
  for (std::size_t i = 0; i < kNumPlanes; ++i) out.plane[i] = refined(whole, mould.plane[i]);
  set_normals(out.at, out.triangles, out.normal);
  return out;
}

}  // namespace phren::acoustics
