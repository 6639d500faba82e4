#include "patient/person.h"

#include <array>
#include <span>
#include <string>

#include "base/det_math.h"
#include "base/units.h"

namespace phren::patient {
namespace {

struct Point {
  double x, y;
};

// Straight lines between the points, flat outside.
double interpolate(std::span<const Point> points, double x) noexcept {
  if (x <= points.front().x) return points.front().y;
  for (std::size_t i = 1; i < points.size(); ++i) {
    if (x <= points[i].x) {
      const double t = (x - points[i - 1].x) / (points[i].x - points[i - 1].x);
      return points[i - 1].y + t * (points[i].y - points[i - 1].y);
    }
  }
  return points.back().y;
}

double ramp(double x, double from, double to) noexcept {
  const double t = (x - from) / (to - from);
  return t < 0.0 ? 0.0 : t > 1.0 ? 1.0 : t;
}

double mix(double a, double b, double t) noexcept {
  return a + t * (b - a);
}

// GLI 2021 static lung volumes without the age spline (a few per cent), V (erj markup 182644).
struct StaticVolumes {
  double frc_L, tlc_L, vc_L;
};
StaticVolumes gli(Sex sex, double age, double height_cm) noexcept {
  const double la = det::log(age < 5.0 ? 5.0 : age), lh = det::log(height_cm);
  if (sex == Sex::kMale) {
    return {det::exp(-13.4898 + 0.1111 * la + 2.7634 * lh),
            det::exp(-10.5861 + 0.1433 * la + 2.3155 * lh),
            det::exp(-10.134371 - 0.003532 * age + 2.307980 * lh)};
  }
  return {det::exp(-12.7674 + 0.1251 * la + 2.6049 * lh),
          det::exp(-10.1128 + 0.1062 * la + 2.2259 * lh),
          det::exp(-9.230600 - 0.005517 * age + 2.116822 * lh)};
}

// Multiple-breath washout FRC of boys by height, V (erj markup 102498); log of litres.
double frc_child_L(double height_cm) noexcept {
  static constexpr std::array<Point, 6> kLogFrc{
      {{55, -2.465}, {70, -1.820}, {100, -0.770}, {120, -0.203}, {140, 0.292}, {160, 0.705}}};
  return det::exp(interpolate(kLogFrc, height_cm));
}

double ideal_weight_kg(const Person& p) noexcept {
  // Adults: height less 100, less a tenth (women 0.85 of it): a rule of thumb, from memory.
  // Children: the given weight, up to a body mass index fitting the age (our choice).
  const double h = p.height_cm;
  const double adult = (h - 100.0) * (p.sex == Sex::kMale ? 0.92 : 0.87);
  const double child_bmi = mix(16.0, 20.0, ramp(p.age_years, 6.0, 16.0));
  const double child = child_bmi * h * h / 10000.0;
  const double by_height = mix(child, adult > 30.0 ? adult : 30.0, ramp(p.age_years, 12.0, 17.0));
  return by_height;
}

void set_volumes(const Person& p, Reference& r) noexcept {
  const double grown = ramp(p.age_years, 10.0, 16.0);
  const StaticVolumes adult = gli(p.sex, p.age_years, p.height_cm);
  const double infant = ramp(p.height_cm, 82.0, 100.0);
  const double child_frc = mix(frc_infant_L(p.height_cm), frc_child_L(p.height_cm), infant);
  r.frc_L = mix(child_frc, adult.frc_L, grown);
  // Children: FRC is near half of TLC and RV a quarter (our choice).
  r.tlc_L = mix(child_frc * 2.1, adult.tlc_L, grown);
  const double rv = mix(child_frc * 0.53, adult.tlc_L - adult.vc_L, grown);
  const double top = 0.8 * r.frc_L, bottom = 0.35 * r.frc_L;
  r.rv_L = rv > top ? top : rv < bottom ? bottom : rv;
  r.lung_recoil_cmH2O =
      mix(5.0, 6.0, grown) * (1.0 - 0.003 * (p.age_years > 40.0 ? p.age_years - 40.0 : 0.0));
}

// V: interrupter resistance by height (Merkus 2002) above 1 m; total resistance of infants is
// higher, 51 cmH2O s/L at about 60 cm (J Thorac Dis 2016;8:513), joined by a log line.
double resistance_of(double height_cm) noexcept {
  static constexpr std::array<Point, 2> kLogInfant{{{58.0, 3.93}, {100.0, 2.27}}};
  if (height_cm < 100.0) return det::exp(interpolate(kLogInfant, height_cm));
  const double child = cmH2O_from_kPa(interrupter_resistance_kPa_s_per_L(height_cm));
  return child > 2.3 ? child : 2.3;
}

}  // namespace

double frc_infant_L(double length_cm) noexcept {
  return det::exp(-5.465 + 2.49 * det::log(length_cm)) / 1000.0;
}

double interrupter_resistance_kPa_s_per_L(double height_cm) noexcept {
  return det::exp((0.645 - 0.00668 * height_cm) * 2.302585092994046);
}

double dead_space_mL_per_kg(double age_years) noexcept {
  const double child = 3.28 - 0.56 * det::log(1.0 + (age_years > 0.0 ? age_years : 0.0));
  return mix(child, 2.2, ramp(age_years, 12.0, 18.0));
}

double chest_wall_compliance_mL_per_cmH2O_per_kg(double age_years) noexcept {
  static constexpr std::array<Point, 6> kWall{
      {{0.0, 2.95}, {0.8, 2.7}, {1.5, 2.2}, {3.0, 2.04}, {12.0, 2.2}, {18.0, 2.85}}};
  const double young = interpolate(kWall, age_years);
  return young * (1.0 - 0.006 * (age_years > 40.0 ? age_years - 40.0 : 0.0));
}

double hypotension_limit_mmHg(double age_years) noexcept {
  if (age_years < 29.0 / 365.25) return 60.0;
  if (age_years < 1.0) return 70.0;
  return age_years < 10.0 ? 70.0 + 2.0 * age_years : 90.0;
}

double typical_respiratory_rate_per_min(double age_years) noexcept {
  static constexpr std::array<Point, 13> kRate{{{0.0, 44.0},
                                                {0.375, 41.0},
                                                {0.625, 39.0},
                                                {0.875, 37.0},
                                                {1.25, 35.0},
                                                {1.75, 31.0},
                                                {2.5, 27.0},
                                                {3.5, 25.0},
                                                {5.0, 23.0},
                                                {7.0, 21.0},
                                                {10.0, 19.0},
                                                {13.5, 17.5},
                                                {18.0, 14.5}}};
  return interpolate(kRate, age_years) + 0.04 * (age_years > 50.0 ? age_years - 50.0 : 0.0);
}

double typical_heart_rate_per_min(double age_years) noexcept {
  static constexpr std::array<Point, 14> kRate{{{0.0, 127.0},
                                                {0.083, 145.0},
                                                {0.375, 140.0},
                                                {0.625, 134.0},
                                                {0.875, 128.0},
                                                {1.25, 123.0},
                                                {2.0, 113.0},
                                                {3.5, 104.0},
                                                {5.0, 98.0},
                                                {7.0, 91.0},
                                                {10.0, 84.0},
                                                {13.5, 78.0},
                                                {16.5, 73.0},
                                                {20.0, 71.0}}};
  return interpolate(kRate, age_years);
}

double rr_awake_median_per_min(double m) noexcept {
  return det::exp((1.6801 - 0.01189 * m + 0.00013401 * m * m) * 2.302585092994046);
}

Result<Person> complete(Person p) {
  if (!(p.age_years >= 0.0 && p.age_years <= 110.0)) {
    return fail(out_of_range("age_years", p.age_years, "between 0 and 110"));
  }
  if (!(p.height_cm >= 40.0 && p.height_cm <= 220.0)) {
    return fail(out_of_range("height_cm", p.height_cm, "between 40 and 220"));
  }
  if (p.age_years >= 16.0 && p.height_cm < 120.0) {
    return fail(out_of_range("height_cm", p.height_cm, "at least 120 from 16 years on"));
  }
  if (!(p.weight_kg >= 1.5 && p.weight_kg <= 250.0)) {
    return fail(out_of_range("weight_kg", p.weight_kg, "between 1.5 and 250"));
  }
  const double bmi = p.weight_kg / (p.height_cm * p.height_cm) * 10000.0;
  if (!(bmi >= 8.0 && bmi <= 80.0)) {
    return fail(out_of_range("weight_kg", p.weight_kg,
                             "such that weight/height^2 lies between 8 and 80 kg/m^2"));
  }
  if (!(p.muscle >= 0.0 && p.muscle <= 1.0)) {
    return fail(out_of_range("muscle", p.muscle, "between 0 and 1"));
  }
  // Torso size: adults from ANSUR II (breadth 289/269 mm, depth 254/247 mm), children in proportion
  // to height with a rounder chest (our choice). Tissue: our choice, anchored to walls of 3.4-4.3
  // cm at decompression sites in adults (Laan 2016, from memory).
  const double child = 1.0 - ramp(p.age_years, 2.0, 16.0);
  const double breadth_cm = (p.sex == Sex::kMale ? 28.9 / 175.6 : 26.9 / 162.9) * p.height_cm;
  const double lean_bmi = 18.0 + 5.0 * (p.muscle - 0.3);  // muscle weighs too
  const double fat = bmi > lean_bmi ? (bmi - lean_bmi) * 0.16 : 0.0;
  const double bones_cm = 0.9 + 0.006 * p.height_cm;
  // Muscle grows in front, where the pectorals lie; below the shoulder blades it stays a thin
  // sheet.
  const double grown = (p.muscle - 0.3) * p.height_cm / 170.0;
  const double size = p.height_cm / 170.0;
  p.wall_front_cm = bones_cm + 0.55 * fat + 0.24 * size + 2.2 * grown;
  p.wall_side_cm = bones_cm + 0.50 * fat + 0.15 * size + 0.8 * grown;
  p.wall_back_cm = bones_cm + 0.45 * fat + 0.48 * size + 0.5 * grown + 0.6;
  p.half_chest_breadth_cm = 0.5 * breadth_cm * (1.0 + 0.15 * child) + 0.3 * fat;
  p.chest_depth_cm =
      breadth_cm * (p.sex == Sex::kMale ? 0.879 : 0.918) * (1.0 + 0.25 * child) + 0.5 * fat;
  p.lung_height_cm = 0.145 * p.height_cm;
  return p;
}

// Schofield 1985, kcal/day by weight, times 0.1438 mL/min (from memory).
static double oxygen_use_mL_per_min(const Person& p, double kg) noexcept {
  const double a = p.age_years;
  struct Line {
    double age, slope, base;
  };
  static constexpr std::array<Line, 6> kMen{{{1.5, 59.5, -30.4},
                                             {6.5, 22.7, 504.0},
                                             {14.0, 17.7, 658.0},
                                             {24.0, 15.1, 692.0},
                                             {45.0, 11.5, 873.0},
                                             {70.0, 11.7, 588.0}}};
  static constexpr std::array<Line, 6> kWomen{{{1.5, 58.3, -31.1},
                                               {6.5, 20.3, 486.0},
                                               {14.0, 13.4, 693.0},
                                               {24.0, 14.8, 487.0},
                                               {45.0, 8.1, 846.0},
                                               {70.0, 9.1, 659.0}}};
  const auto& lines = p.sex == Sex::kMale ? kMen : kWomen;
  const auto kcal = [&](std::size_t i) { return lines[i].slope * kg + lines[i].base; };
  // Straight between the middles of the bands, so that a birthday changes nothing.
  if (a <= lines[0].age) return 0.1438 * kcal(0);
  for (std::size_t i = 1; i < lines.size(); ++i) {
    if (a <= lines[i].age) {
      const double t = (a - lines[i - 1].age) / (lines[i].age - lines[i - 1].age);
      return 0.1438 * mix(kcal(i - 1), kcal(i), t);
    }
  }
  return 0.1438 * kcal(5);
}

static void set_circulation(const Person& p, double grown, Reference& r) noexcept {
  static constexpr std::array<Point, 13> kSystolic{{{0.0, 64.0},
                                                    {0.1, 78.0},
                                                    {0.3, 86.0},
                                                    {1.0, 92.0},
                                                    {2.0, 96.0},
                                                    {5.0, 102.0},
                                                    {10.0, 110.0},
                                                    {16.0, 117.0},
                                                    {30.0, 120.0},
                                                    {50.0, 128.0},
                                                    {60.0, 134.0},
                                                    {80.0, 146.0},
                                                    {100.0, 148.0}}};
  static constexpr std::array<Point, 10> kDiastolic{{{0.0, 38.0},
                                                     {0.1, 45.0},
                                                     {1.0, 47.0},
                                                     {2.0, 52.0},
                                                     {5.0, 58.0},
                                                     {10.0, 64.0},
                                                     {16.0, 70.0},
                                                     {30.0, 74.0},
                                                     {55.0, 80.0},
                                                     {80.0, 74.0}}};
  r.systolic_mmHg = interpolate(kSystolic, p.age_years);
  r.diastolic_mmHg = interpolate(kDiastolic, p.age_years);
  static constexpr std::array<Point, 7> kHaemoglobin{{{0.0, 17.0},
                                                      {0.14, 11.2},
                                                      {0.5, 11.5},
                                                      {1.0, 12.0},
                                                      {6.0, 12.9},
                                                      {12.0, 14.0},
                                                      {18.0, 15.0}}};
  const double child = interpolate(kHaemoglobin, p.age_years);
  r.haemoglobin_g_per_dL = p.sex == Sex::kMale ? child : child - 1.5 * grown;
  static constexpr std::array<Point, 7> kBlood{{{0.0, 0.085},
                                                {0.5, 0.078},
                                                {1.0, 0.077},
                                                {6.0, 0.075},
                                                {18.0, 0.070},
                                                {50.0, 0.069},
                                                {80.0, 0.063}}};
  r.blood_L_per_kg = interpolate(kBlood, p.age_years) - (p.sex == Sex::kMale ? 0.0 : 0.004 * grown);
  static constexpr std::array<Point, 4> kFetal{{{0.0, 0.70}, {0.1, 0.78}, {0.3, 0.93}, {0.6, 1.0}}};
  r.half_saturation_ratio = interpolate(kFetal, p.age_years);
  // Newborn blood gives up less of what it carries, so more of it must flow.
  static constexpr std::array<Point, 4> kGiven{{{0.0, 2.4}, {1.0, 3.8}, {6.0, 3.75}, {14.0, 3.4}}};
  r.cardiac_output_L_per_min =
      r.oxygen_use_mL_per_min / (interpolate(kGiven, p.age_years) * r.haemoglobin_g_per_dL);
  static constexpr std::array<Point, 6> kSinus{
      {{0.0, 3.0}, {2.0, 8.0}, {10.0, 13.0}, {30.0, 9.0}, {60.0, 3.5}, {80.0, 2.2}}};
  r.sinus_arrhythmia_per_min = interpolate(kSinus, p.age_years);
  static constexpr std::array<Point, 3> kPaco2{{{0.0, 34.5}, {2.0, 35.0}, {10.0, 40.0}}};
  r.paco2_mmHg = interpolate(kPaco2, p.age_years);
  r.bicarbonate_mmol_per_L = 24.0 - 0.5 * (40.0 - r.paco2_mmHg);
}

Reference reference_of(const Person& p) noexcept {
  Reference r;
  r.ideal_weight_kg = ideal_weight_kg(p);
  const double excess = p.weight_kg > r.ideal_weight_kg ? p.weight_kg - r.ideal_weight_kg : 0.0;
  const double lean_kg = p.weight_kg - excess;
  const double active_kg = lean_kg + 0.55 * excess;
  const double grown = ramp(p.age_years, 12.0, 18.0);
  set_volumes(p, r);
  const double size_kg =
      r.ideal_weight_kg < 1.3 * p.weight_kg ? r.ideal_weight_kg : 1.3 * p.weight_kg;
  r.chest_wall_compliance_L_per_cmH2O =
      L_from_mL(chest_wall_compliance_mL_per_cmH2O_per_kg(p.age_years) * size_kg);
  // Adults: airways and lung tissue about 2.5 cmH2O s/L, less in the tall (specific resistance).
  r.resistance_cmH2O_s_per_L = mix(resistance_of(p.height_cm), 2.5 * 170.0 / p.height_cm, grown);
  r.dead_space_L = L_from_mL(dead_space_mL_per_kg(p.age_years) * size_kg);
  r.oxygen_use_mL_per_min = oxygen_use_mL_per_min(p, active_kg);
  r.respiratory_rate_per_min = typical_respiratory_rate_per_min(p.age_years);
  r.inspired_share = 0.41;
  r.heart_rate_per_min = typical_heart_rate_per_min(p.age_years);
  set_circulation(p, grown, r);
  // Small airways lose support with age (NHANES III direction; size our choice).
  r.emptying_s = 0.5 + 0.004 * (p.age_years > 25.0 ? p.age_years - 25.0 : 0.0);
  r.muscle_strength_cmH2O = mix(75.0, p.sex == Sex::kMale ? 105.0 : 80.0, grown) *
                            (0.9 + 0.3 * p.muscle) *
                            (1.0 - 0.006 * (p.age_years > 50.0 ? p.age_years - 50.0 : 0.0));
  r.low_vq = 0.024 + 0.0012 * p.age_years;
  r.shunt = 0.015;
  // Narrowest airway: cricoid radius 3 mm in infancy to 4.5 at 5 y (secondary source), adult
  // glottis.
  static constexpr std::array<Point, 6> kRadius{
      {{0.0, 2.8}, {1.0, 3.4}, {3.0, 4.0}, {5.0, 4.5}, {12.0, 6.0}, {18.0, 7.2}}};
  const double radius = interpolate(kRadius, p.age_years);
  r.glottis_area_mm2 = det::kPi * radius * radius;
  r.upper_collapse_cmH2O = mix(15.0, 40.0, ramp(p.age_years, 0.0, 16.0));
  const double bmi = p.weight_kg / (p.height_cm * p.height_cm) * 10000.0;
  const double load = p.age_years > 12.0 && bmi > 25.0 ? 0.48 * (bmi - 25.0) : 0.0;
  r.wall_load_cmH2O = load < 12.0 ? load : 12.0;
  return r;
}

}  // namespace phren::patient
