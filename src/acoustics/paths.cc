#include "acoustics/paths.h"

#include "acoustics/lanes.h"

namespace phren::acoustics {
namespace {

using patient::Person;
using patient::PleuraState;
using patient::Snapshot;

constexpr double kReferenceDistance_cm = 4.5;
constexpr double kReferenceWall_cm = 3.0;
constexpr double kAdultCrossing_db = 13.0;  // mediastinum between a source and the other side
constexpr double kInfantCrossing_db = 3.0;
constexpr double kMaxGasLoss_db = 30.0;
constexpr double kCrackleWay_hz = 185.0;
constexpr double kBlownUpLoss_db = 1.5;
constexpr double kScarGas_L = 0.35;  // pleural gas that gives 63 % of that loss, adult

// 0 in an infant, 1 from about twelve years.
double maturity(const Person& person) noexcept {
  return smooth_step(0.0, 12.0, person.age_years);
}
double volume_scale(const Torso& torso) noexcept {
  return torso.size() * torso.size() * torso.size();
}

double spread(double distance_cm) noexcept {
  return det::exp(-distance_cm / 9.0) * 4.0 / det::sqrt(distance_cm * distance_cm + 9.0);
}

double gas_loss_db(const Torso& torso, const SkinPoint& skin, const PleuraState& side) noexcept {
  if (side.gas_L <= 0.0) return 0.0;
  const double gas = side.gas_L / volume_scale(torso);
  // Upright, gas gathers at the top: a small amount covers the apex and the front first.
  const double cover = clamp(4.0 * gas + (skin.upper - 0.6) * (gas < 0.25 ? 1.0 : 0.0), 0.0, 1.0);
  return kMaxGasLoss_db * (1.0 - det::exp(-gas / kScarGas_L)) * cover;
}

double fluid_level_cm(const Torso& torso, const PleuraState& side) noexcept {
  const double fluid = side.fluid_L / volume_scale(torso);
  const double base = -1.35 * torso.notch_to_nipple_cm();
  if (fluid <= 0.0) return base - 10.0;
  return base + 1.25 * torso.notch_to_nipple_cm() * det::pow(clamp(fluid / 2.8, 0.0, 1.0), 0.6);
}

}  // namespace

double lung_sound_speed_m_per_s(double gas_fraction, double pressure_atm) noexcept {
  const double density_kg_m3 = 1000.0 * (1.0 - gas_fraction);
  return det::sqrt(101325.0 * pressure_atm / (gas_fraction * density_kg_m3));
}

double open_power(double f_hz, double centre_hz) noexcept {
  const double x = f_hz / (centre_hz * kOpenQ);
  return x * x * low_pass_power(f_hz, centre_hz, kOpenQ) * pole_power(f_hz, kOpenPole_hz);
}

double effusion_loss_db(double fluid_mL_per_kg) noexcept {
  return 0.68 * clamp(fluid_mL_per_kg, 0.0, 25.0);
}

double submerged(const Torso& torso, const Vec3& at, const PleuraState& side) noexcept {
  const double level = fluid_level_cm(torso, side);
  return 1.0 - smooth_step(level - 2.0 * torso.size(), level + 1.0 * torso.size(), at.z);
}

namespace {

// 0 at a healthy resting volume .. 1 when blown up to four fifths of capacity.
double blown_up(double resting_inflation) noexcept {
  return clamp((resting_inflation - 0.52) / 0.28, 0.0, 1.3);
}

void hear_points(Hearing& out, const Torso& torso, const Person& person, const SkinPoint& skin,
                 const Snapshot& now, const RestingVolume& resting) noexcept {
  const double crossing_db = mix(kInfantCrossing_db, kAdultCrossing_db, maturity(person));
  const double reference = spread(kReferenceDistance_cm);
  std::array<double, exam::kNumLobes> power{}, count{}, corner{}, dull{};
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    const SourcePoint& point = torso.points()[i];
    const auto lobe = static_cast<std::size_t>(point.lobe);
    const double r = distance(point.at, skin.at) / torso.size();
    const double sign = point.at.x < 0.0 ? -1.0 : 1.0;
    const double across = clamp(0.5 - 0.5 * sign * skin.leftness, 0.0, 1.0);
    const double full = blown_up(resting[lobe]);
    const double gain =
        spread(r) / reference * det::ratio_from_db(-crossing_db * across - kBlownUpLoss_db * full);
    const double stiff = now.lobe[lobe].consolidation + 0.4 * now.lobe[lobe].lung_water;
    const double nearness =
        clamp(6.0 / (r + 1.5), 0.25, 1.3) / det::sqrt(torso.size()) * det::exp(-1.4 * full);
    const double pole_hz = (720.0 + 2800.0 * clamp(stiff, 0.0, 1.0)) * nearness;
    out.point_gain[i] = gain;
    out.point_pole_hz[i] = pole_hz;
    power[lobe] += gain * gain;
    corner[lobe] += gain * gain * pole_hz;
    dull[lobe] += gain * gain * kCrackleWay_hz * nearness;
    count[lobe] += 1.0;
  }
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    out.lobe_gain[l] = det::sqrt(power[l] / count[l]);
    out.lobe_pole_hz[l] = corner[l] / power[l];
    out.crackle_pole_hz[l] = dull[l] / power[l];
  }
}

void hear_airways(Hearing& out, const Torso& torso, const SkinPoint& skin,
                  const Snapshot& now) noexcept {
  // The lobe that lies nearest decides through which lung the large airways are heard.
  double weight = 0.0, solid = 0.0, far_cm = 0.0, gas_share = 0.0;
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    const auto lobe = static_cast<std::size_t>(torso.points()[i].lobe);
    const double w = out.point_gain[i] * out.point_gain[i];
    const auto& state = now.lobe[lobe];
    weight += w;
    solid += w * (state.bronchus_blocked ? 0.0 : state.consolidation);
    far_cm += w * distance(torso.bronchus(torso.points()[i].lobe), skin.at);
    gas_share += w * (0.70 + 0.15 * state.volume_fraction);
  }
  const double tissue_cm = clamp(far_cm / weight - 2.5 * torso.size(), 0.5, 60.0);
  const double speed = lung_sound_speed_m_per_s(clamp(gas_share / weight, 0.6, 0.9), 1.0);
  AirwayPath& path = out.airway;
  const double upper = skin.upper;
  path.delay_s = clamp(0.01 * tissue_cm / speed + 0.0003, 0.0, 0.015);
  path.peak_hz = mix(141.0, 166.0, upper) / torso.size();
  path.q = mix(2.15, 1.83, upper);
  path.band_mix = mix(0.0, 0.45, upper);
  path.pole_hz = mix(620.0, 1100.0, upper) / torso.size();
  const double r = distance(torso.notch(), skin.at) / torso.size();
  const double right = 1.0 - 0.25 * upper * skin.leftness;
  path.gain = 0.050 * right * det::exp(-(r - 10.0) / 14.0);
  out.open_gain = 0.26 * solid / weight;
  out.open_centre_hz = 600.0 / det::sqrt(torso.size());
}

double distance_to_windpipe(const Torso& torso, const SkinPoint& skin) noexcept {
  const Vec3 a = torso.notch(), b = torso.larynx();
  const Vec3 ab{b.x - a.x, b.y - a.y, b.z - a.z};
  const Vec3 ap{skin.at.x - a.x, skin.at.y - a.y, skin.at.z - a.z};
  const double t =
      clamp((ap.x * ab.x + ap.y * ab.y + ap.z * ab.z) / (ab.x * ab.x + ab.y * ab.y + ab.z * ab.z),
            0.0, 1.0);
  return distance(skin.at, {a.x + t * ab.x, a.y + t * ab.y, a.z + t * ab.z});
}

}  // namespace

Hearing hear(const Torso& torso, const Person& person, const SkinPoint& skin, const Snapshot& now,
             const RestingVolume& resting) noexcept {
  Hearing out;
  hear_points(out, torso, person, skin, now, resting);
  hear_airways(out, torso, skin, now);

  const double neck_cm = distance_to_windpipe(torso, skin) / torso.size();
  const double near = clamp((neck_cm - 1.6) / 2.2, 0.0, 100.0);
  out.neck_gain = det::exp(-near * near / 8.0) / (1.0 + near * near * near);

  const double heart_cm = distance(torso.heart(), skin.at) / torso.size();
  out.heart_gain = 36.0 / (36.0 + heart_cm * heart_cm) * det::exp(-heart_cm / 22.0);

  for (std::size_t s = 0; s < 2; ++s) {
    const double x = s == 0 ? -1.0 : 1.0;
    const Vec3 spot{0.85 * x * person.half_chest_breadth_cm, 0.25 * person.chest_depth_cm,
                    -1.05 * torso.notch_to_nipple_cm()};
    const double r = distance(spot, skin.at) / torso.size();
    out.pleura_gain[s] = det::exp(-r / 8.0) * (skin.leftness * x < -0.5 ? 0.05 : 1.0);
  }

  const double wall = clamp(skin.wall_cm, 0.5, 9.0);
  out.wall_gain = kReferenceWall_cm / wall * det::ratio_from_db(skin.bone_db);
  out.wall_pole_hz = clamp(2700.0 / wall, 250.0, 4000.0);

  const double left = 0.5 + 0.5 * skin.leftness;
  double gas_db = 0.0, fluid_db = 0.0, bright_db = 0.0;
  for (std::size_t s = 0; s < 2; ++s) {
    const double share = s == 0 ? 1.0 - left : left;
    if (share <= 0.0) continue;
    gas_db += share * gas_loss_db(torso, skin, now.pleura[s]);
    const double cover = share * submerged(torso, skin.at, now.pleura[s]);
    const double per_kg = 1000.0 * now.pleura[s].fluid_L / clamp(person.weight_kg, 1.0, 250.0);
    fluid_db += cover * effusion_loss_db(per_kg);
    bright_db += cover * clamp(1.8 * per_kg, 0.0, 9.0);
  }
  out.gas_gain = det::ratio_from_db(-gas_db);
  out.fluid_low_db = -fluid_db;
  out.fluid_high_db = bright_db;
  return out;
}

}  // namespace phren::acoustics
