// The figure's C interface: what the pages' drawing calls. One figure per module instance.
//
// Order of calls: figure_data_space, write data/figure/body.bin there, figure_load; figure_make;
// then the rest. Pointers stay valid until the next call of the function that gave them or of
// figure_make. Places are in cm on the axes of drawing: x to the patient's left, y up, z to the
// front (torso.h has y and z the other way round).
#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acoustics/figure/inside.h"
#include "acoustics/figure/parts.h"
#include "acoustics/figure/plane.h"
#include "acoustics/figure/seen.h"
#include "base/wasm_export.h"

namespace {

using namespace phren;
using acoustics::Point;

constexpr std::size_t kAnswer = 9, kLooks = 10;

struct Body {
  acoustics::Figure figure;
  acoustics::SkinMap map;
  acoustics::Ribs ribs;
  acoustics::Motion motion;
  explicit Body(acoustics::Figure made)
      : figure(std::move(made)), map(figure), ribs(figure, map), motion(figure, map, ribs) {}
};

struct Module {
  std::vector<std::uint8_t> data;
  std::optional<acoustics::Mould> mould;
  std::unique_ptr<Body> body;
  std::unique_ptr<acoustics::Inside> inside;  // made when it is first looked at
  std::string error;
  std::vector<float> places, normals, rest, about, spots;
  std::vector<float> inside_places, inside_normals, inside_about;
  std::vector<std::uint32_t> inside_indices;
  std::vector<acoustics::SkinSpot> spot;
  std::vector<std::uint32_t> indices;
  std::vector<std::uint8_t> paint;
  std::array<double, acoustics::kSeenLength> row{};
  acoustics::Seen seen;  // read from it by the last figure_move
  std::array<double, kAnswer> answer{};
};

Module& module() {
  static Module instance;
  return instance;
}

double* answer_at(const exam::TorsoPoint& place, const acoustics::SkinSpot& spot) {
  Module& m = module();
  const Point p = m.body->map.point(spot, m.body->motion.at());
  const Point n = m.body->map.point(spot, m.body->motion.normal());
  m.answer = {static_cast<double>(place.aspect),
              place.u,
              place.v,
              static_cast<double>(p.x),
              static_cast<double>(p.z),
              static_cast<double>(p.y),
              static_cast<double>(n.x),
              static_cast<double>(n.z),
              static_cast<double>(n.y)};
  return m.answer.data();
}

// The answer for a place: where its skin is now.
double* figure_skin_of(const exam::TorsoPoint& place) {
  const auto spot = module().body->map.to_skin(place);
  return spot ? answer_at(place, *spot) : nullptr;
}

void put(std::vector<float>& to, Point p) {
  to.insert(to.end(), {p.x, p.z, p.y});
}

void write_vertices() {
  Module& m = module();
  m.places.clear();
  m.normals.clear();
  m.spots.clear();
  for (const Point& p : m.body->motion.at()) put(m.places, p);
  for (const Point& n : m.body->motion.normal()) put(m.normals, n);
  for (const acoustics::SkinSpot& spot : m.spot) {
    put(m.spots, m.body->map.point(spot, m.body->motion.at()));
    put(m.spots, m.body->map.point(spot, m.body->motion.normal()));
  }
}

// 1 where the body is drawn, falling to 0 where the mesh was cut at hips and above the elbows.
float shown(const acoustics::Figure& g, std::size_t i, float low_cm, float arm_cm) {
  const Point p = g.at[i];
  const double size = g.stature_cm / 175.0;
  const double hip =
      acoustics::smooth_ramp(static_cast<double>(p.z - low_cm), 4.5 * size, 14.0 * size);
  if (g.share(acoustics::Plane::kArm, i) < 0.5f) return static_cast<float>(hip);
  const Point d = p - g.of(acoustics::Joint::kShoulder, p.x < 0.0f);
  const double far = det::sqrt(static_cast<double>(acoustics::dot(d, d)));
  return 1.0f -
         static_cast<float>(acoustics::smooth_ramp(far / static_cast<double>(arm_cm), 0.52, 0.82));
}

void write_fixed() {
  using enum acoustics::Plane;
  Module& m = module();
  const acoustics::Figure& g = m.body->figure;
  m.indices.clear();
  for (const acoustics::Triangle& t : g.triangles)
    m.indices.insert(m.indices.end(), {t[0], t[2], t[1]});
  m.paint.clear();
  m.rest.clear();
  m.about.clear();
  m.spot.clear();
  float low = 0.0f, arm = 1.0f;
  for (std::size_t i = 0; i < g.at.size(); ++i) {
    low = std::min(low, g.at[i].z);
    if (g.share(kArm, i) < 0.9f) continue;
    const Point d = g.at[i] - g.of(acoustics::Joint::kShoulder, g.at[i].x < 0.0f);
    arm = std::max(arm, static_cast<float>(det::sqrt(static_cast<double>(acoustics::dot(d, d)))));
  }
  for (std::size_t i = 0; i < g.at.size(); ++i) {
    for (const auto plane : {kHair, kBrow, kLip, kAreola, kEye, kMouth, kLight, kArm}) {
      m.paint.push_back(static_cast<std::uint8_t>(255.0f * g.share(plane, i)));
    }
    const Point p = g.at[i];
    const double angle = m.body->map.angle_at(p);
    const double rib = m.body->ribs.number_at(static_cast<double>(p.z), angle);
    const float trunk = (1.0f - g.share(kArm, i)) * (1.0f - g.share(kHead, i));
    put(m.rest, p);
    m.about.insert(m.about.end(),
                   {static_cast<float>(rib), static_cast<float>(angle < 0.0 ? -angle : angle),
                    trunk, shown(g, i, low, arm)});
  }
}

}  // namespace

PHREN_EXPORT(figure_data_space) std::uint8_t* figure_data_space(int bytes) {
  if (bytes < 0 || bytes > (1 << 24)) return nullptr;
  module().data.assign(static_cast<std::size_t>(bytes), 0);
  return module().data.data();
}

// 0, or 1 with figure_error() telling why.
PHREN_EXPORT(figure_load) int figure_load() {
  Module& m = module();
  auto mould = acoustics::Mould::read(m.data);
  m.data = {};
  if (!mould) {
    m.error = mould.error().message;
    return 1;
  }
  m.mould.emplace(std::move(*mould));
  return 0;
}

PHREN_EXPORT(figure_error) const char* figure_error() {
  return module().error.c_str();
}

// 0, or 1 with figure_error() telling why.
PHREN_EXPORT(figure_make)
int figure_make(double age_years, int is_male, double height_cm, double weight_kg, double muscle) {
  Module& m = module();
  if (!m.mould) {
    m.error = "the packed body is not loaded";
    return 1;
  }
  patient::Person person;
  person.age_years = age_years;
  person.sex = is_male != 0 ? patient::Sex::kMale : patient::Sex::kFemale;
  person.height_cm = height_cm;
  person.weight_kg = weight_kg;
  person.muscle = muscle;
  const auto whole = patient::complete(person);
  if (!whole) {
    m.error = whole.error().message;
    return 1;
  }
  m.body = std::make_unique<Body>(acoustics::make_figure(*m.mould, *whole));
  m.inside.reset();
  write_fixed();
  write_vertices();
  return 0;
}

PHREN_EXPORT(figure_vertex_count) int figure_vertex_count() {
  return module().body ? static_cast<int>(module().body->figure.at.size()) : 0;
}
PHREN_EXPORT(figure_index_count) int figure_index_count() {
  return static_cast<int>(module().indices.size());
}
PHREN_EXPORT(figure_indices) std::uint32_t* figure_indices() {
  return module().indices.data();
}
// Per vertex 3 numbers: where it is and its normal now, and where it is at rest.
PHREN_EXPORT(figure_places) float* figure_places() {
  return module().places.data();
}
PHREN_EXPORT(figure_normals) float* figure_normals() {
  return module().normals.data();
}
PHREN_EXPORT(figure_rest) float* figure_rest() {
  return module().rest.data();
}
// Per vertex 4 numbers: rib number, angle round the trunk, share of the trunk, share that is shown.
PHREN_EXPORT(figure_about) float* figure_about() {
  return module().about.data();
}

// Keeps a place of the acoustics in view: its number among figure_spots(), or -1.
PHREN_EXPORT(figure_watch) int figure_watch(int aspect, double u, double v) {
  Module& m = module();
  if (!m.body || aspect < 0 || aspect > 4) return -1;
  const auto spot = m.body->map.to_skin({static_cast<exam::Aspect>(aspect), u, v});
  if (!spot) return -1;
  m.spot.push_back(*spot);
  return static_cast<int>(m.spot.size()) - 1;
}
PHREN_EXPORT(figure_forget) void figure_forget() {
  module().spot.clear();
}
// Per watched place 6 numbers, as of the last figure_move: place and normal.
PHREN_EXPORT(figure_spots) float* figure_spots() {
  return module().spots.data();
}
// Per vertex 8 bytes: hair, brow, lip, areola, eye, mouth, light, arm.
PHREN_EXPORT(figure_paint) std::uint8_t* figure_paint() {
  return module().paint.data();
}

// Where to write what phren_seen() of the engine gave, before figure_move; and how many numbers.
PHREN_EXPORT(figure_seen) double* figure_seen() {
  return module().row.data();
}
PHREN_EXPORT(figure_seen_length) int figure_seen_length() {
  return static_cast<int>(acoustics::kSeenLength);
}

// Moves the body to what was written; without it (`is_known` 0) it rests.
PHREN_EXPORT(figure_move)
void figure_move(int is_known, double arms_forward, double lying, double plain) {
  Module& m = module();
  if (!m.body) return;
  m.seen = is_known != 0 ? acoustics::read_seen(m.row) : acoustics::Seen{};
  if (is_known == 0) m.seen.breath.lobe_L = m.body->motion.rest_L();
  m.body->motion.move(m.seen.breath, m.seen.signs,
                      {std::clamp(arms_forward, 0.0, 1.7), std::clamp(lying, 0.0, 1.0),
                       std::clamp(plain, 1.0, 2.0)});
  write_vertices();
  if (!m.inside) return;
  m.inside->move(m.seen.breath, m.body->motion.rest_L(), m.seen.fluid_L,
                 m.seen.signs.tracheal_deviation);
  m.inside_places.clear();
  m.inside_normals.clear();
  for (const Point& at : m.inside->at()) put(m.inside_places, at);
  for (const Point& n : m.inside->normal()) put(m.inside_normals, n);
}

// Makes what lies under the skin; from then on figure_move moves it too. How many vertices.
PHREN_EXPORT(figure_inside_make) int figure_inside_make() {
  Module& m = module();
  if (!m.body) return 0;
  m.inside = std::make_unique<acoustics::Inside>(m.body->figure, m.body->map, m.body->ribs);
  m.inside_indices.clear();
  m.inside_about.clear();
  m.inside_places.clear();
  m.inside_normals.clear();
  for (const acoustics::Triangle& t : m.inside->triangles()) {
    m.inside_indices.insert(m.inside_indices.end(), {t[0], t[2], t[1]});
  }
  for (std::size_t i = 0; i < m.inside->part().size(); ++i) {
    const auto& above = m.inside->fissure()[i];
    m.inside_about.insert(m.inside_about.end(),
                          {static_cast<float>(m.inside->part()[i]), above[0], above[1]});
    put(m.inside_places, m.inside->at()[i]);
    put(m.inside_normals, m.inside->normal()[i]);
  }
  return static_cast<int>(m.inside->part().size());
}
PHREN_EXPORT(figure_inside_index_count) int figure_inside_index_count() {
  return static_cast<int>(module().inside_indices.size());
}
PHREN_EXPORT(figure_inside_indices) std::uint32_t* figure_inside_indices() {
  return module().inside_indices.data();
}
PHREN_EXPORT(figure_inside_places) float* figure_inside_places() {
  return module().inside_places.data();
}
PHREN_EXPORT(figure_inside_normals) float* figure_inside_normals() {
  return module().inside_normals.data();
}
// Per vertex 3 numbers: acoustics::Organ, cm above the oblique and above the horizontal fissure.
PHREN_EXPORT(figure_inside_about) float* figure_inside_about() {
  return module().inside_about.data();
}
// Height of fluid right and left (cm, up; -1000 none), share of the pleural space without lung.
PHREN_EXPORT(figure_inside_pleura) double* figure_inside_pleura() {
  static std::array<double, 4> out{};
  if (module().inside) {
    const auto fluid = module().inside->fluid_cm(), gap = module().inside->gap();
    out = {fluid[0], fluid[1], gap[0], gap[1]};
  }
  return out.data();
}

// How the skin looks for the signs written: cyanosis, pallor, sweat, weals, swelling of the face,
// top of the neck veins' column (cm, up), lids shut (0..1), pull of the muscles, air under
// the skin, spit at the mouth. Neck veins: right atrium 5 cm below the sternal angle lying flat and
// 10 cm at 45 degrees and more (measured), 1.36 cm a mmHg.
PHREN_EXPORT(figure_looks) double* figure_looks(double lying) {
  static std::array<double, kLooks> out{};
  const Module& m = module();
  if (!m.body) return out.data();
  const patient::Signs& s = m.seen.signs;
  const double angle_cm =
      static_cast<double>(m.body->figure.of(acoustics::Landmark::kSternalAngle).z);
  const double size = m.body->ribs.scale();
  // Upright the column must stand against gravity; lying, the whole neck fills.
  const double atrium_cm = angle_cm - size * acoustics::blend(10.0, 5.0, lying);
  const double rise = acoustics::blend(1.0, 2.5, lying);
  out = {s.cyanosis,
         s.pallor,
         s.diaphoresis,
         s.urticaria,
         s.angioedema,
         atrium_cm + 1.36 * s.jugular_venous_mmHg * rise,
         static_cast<double>(s.consciousness) / 3.0,
         m.body->motion.pull(),
         s.subcutaneous_air,
         m.seen.drool};
  return out.data();
}

// What a ray meets: aspect, u, v, place and normal there (9 numbers), or 0 if no chest or neck.
PHREN_EXPORT(figure_pick)
double* figure_pick(double x, double y, double z, double dx, double dy, double dz) {
  Module& m = module();
  if (!m.body) return nullptr;
  const auto f = [](double value) { return static_cast<float>(value); };
  const auto spot = acoustics::first_met(m.body->motion.at(), m.body->figure.triangles,
                                         {f(x), f(z), f(y)}, {f(dx), f(dz), f(dy)});
  if (!spot) return nullptr;
  const auto place = m.body->map.to_torso(m.body->map.point(*spot, m.body->figure.at));
  return place ? figure_skin_of(*place) : nullptr;
}

// Which part of the person a ray meets (exam::BodyPart), or -1 beside the body.
PHREN_EXPORT(figure_part)
int figure_part(double x, double y, double z, double dx, double dy, double dz) {
  Module& m = module();
  if (!m.body) return -1;
  const auto f = [](double value) { return static_cast<float>(value); };
  const auto& triangles = m.body->figure.triangles;
  const auto spot = acoustics::first_met(m.body->motion.at(), triangles, {f(x), f(z), f(y)},
                                         {f(dx), f(dz), f(dy)});
  if (!spot) return -1;
  return static_cast<int>(acoustics::part_of(m.body->figure, triangles[spot->triangle]));
}

// What figure_pick() answers, for a place of the acoustics.
PHREN_EXPORT(figure_skin) double* figure_skin(int aspect, double u, double v) {
  if (!module().body || aspect < 0 || aspect > 4) return nullptr;
  return figure_skin_of({static_cast<exam::Aspect>(aspect), u, v});
}

// Heights for the camera: crown, eyes, notch, nipples, xiphisternal joint, navel; half breadth and
// half depth of the chest; how far the ribs show (0..1); eye x; mouth y; the outer jugular vein's ends (x, y, z each); how full
// the hair is, how much of the ribs a breast covers, how grey the hair is (0..1 each).
PHREN_EXPORT(figure_frame) double* figure_frame() {
  using acoustics::Landmark;
  static std::array<double, 20> out{};
  if (!module().body) return out.data();
  const acoustics::Figure& g = module().body->figure;
  float crown = 0.0f;
  for (const Point& p : g.at) crown = std::max(crown, p.z);
  const double wall = g.person.wall_side_cm;
  out = {static_cast<double>(crown),
         static_cast<double>(g.of(acoustics::Joint::kEye).z),
         static_cast<double>(g.of(Landmark::kJugularNotch).z),
         static_cast<double>(g.of(Landmark::kNipple).z),
         static_cast<double>(g.of(Landmark::kXiphisternalJoint).z),
         static_cast<double>(g.of(Landmark::kNavel).z),
         module().body->map.section(static_cast<double>(g.of(Landmark::kNipple).z)).half_breadth_cm,
         module().body->map.section(static_cast<double>(g.of(Landmark::kNipple).z)).half_depth_cm,
         std::clamp((3.6 - wall) / 1.8, 0.0, 1.0),
         static_cast<double>(g.of(acoustics::Joint::kEye).x),
         static_cast<double>(g.of(acoustics::Joint::kMouth).z)};
  // From behind the jaw's angle to the middle of the collar bone.
  const Point eye = g.of(acoustics::Joint::kEye), head = g.of(acoustics::Joint::kHead);
  const Point mouth = g.of(acoustics::Joint::kMouth), bone = g.of(Landmark::kMidclavicularPoint);
  const Point top{1.75f * eye.x, head.y + 0.15f * (eye.y - head.y),
                  mouth.z - 0.35f * (eye.z - mouth.z)};
  const Point low{0.62f * bone.x, bone.y - 0.5f, bone.z + 1.0f};
  std::size_t i = 11;
  for (const Point& p : {top, low}) {
    for (const float x : {p.x, p.z, p.y}) out[i++] = static_cast<double>(x);
  }
  const double age = g.person.age_years;
  out[17] = acoustics::blend(0.30, 1.0, acoustics::ramp(age, 0.2, 2.5));
  out[18] = g.person.sex == patient::Sex::kFemale ? acoustics::ramp(age, 10.0, 15.0) : 0.0;
  out[19] = acoustics::smooth_ramp(age, 42.0, 78.0);
  return out.data();
}
