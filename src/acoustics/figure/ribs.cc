#include "acoustics/figure/ribs.h"

#include "acoustics/figure/plane.h"

namespace phren::acoustics {
namespace {

constexpr double kTenthRibOfTable_cm = 31.8;
constexpr std::size_t kRibs = 12;
// Below the notch, cm, in the man of the table: at the sternum's edge, the midclavicular and the
// midaxillary line (there by two anchors: the level of a man's nipple meets the sixth space, Holden;
// the tenth rib by the survey). Ribs 8 to 12 do not reach the sternum: the cartilages' curve is drawn on.
constexpr std::array<double, kRibs> kSternal{1.5,  5.0,  8.0,  10.5, 12.5, 14.0,
                                             15.5, 17.0, 18.5, 20.0, 22.0, 24.0};
constexpr std::array<double, kRibs> kMidclavicular{2.2,  5.5,  9.0,  12.0, 15.0, 18.0,
                                                   20.5, 23.0, 25.0, 27.0, 29.0, 31.0};
constexpr std::array<double, kRibs> kMidaxillary{3.0,  5.5,  8.0,  10.5, 13.3, 16.5,
                                                 20.0, 23.8, 28.0, 32.0, 34.5, 36.5};
// Bodies of T1 to T12 between the tips of C7 (0) and T12 (1); a body stands above its own tip.
constexpr std::array<double, kRibs> kVertebra{0.03, 0.09, 0.16, 0.24, 0.32, 0.40,
                                              0.48, 0.56, 0.65, 0.74, 0.83, 0.92};

double pick(const std::array<double, kRibs>& row, double number) noexcept {
  const double x = std::clamp(number, 0.5, 13.0) - 1.0;
  const auto i = static_cast<std::size_t>(std::clamp(x, 0.0, static_cast<double>(kRibs) - 2.0));
  return row[i] + (x - static_cast<double>(i)) * (row[i + 1] - row[i]);
}

// Notch to the lowest rib at the side: survey of adults, in children by the spine's length.
double tenth_rib_cm(const patient::Person& p, double spine_cm) noexcept {
  const bool is_man = p.sex == patient::Sex::kMale;
  const double adult = is_man ? 6.45 + 0.1353 * p.height_cm + 0.0185 * p.weight_kg
                              : 5.88 + 0.1228 * p.height_cm + 0.0217 * p.weight_kg;
  return blend(1.05 * spine_cm, adult, ramp(p.age_years, 12.0, 18.0));
}

double smooth_between(double x, double x0, double x1, double y0, double y1) noexcept {
  return blend(y0, y1, ramp(x, x0, x1));
}

}  // namespace

Ribs::Ribs(const Figure& figure, const SkinMap& map) noexcept
    : c7_cm_(static_cast<double>(figure.of(Landmark::kC7).z)),
      t12_cm_(static_cast<double>(figure.of(Landmark::kT12).z)) {
  scale_ = tenth_rib_cm(figure.person, c7_cm_ - t12_cm_) / kTenthRibOfTable_cm;
  level_ = 1.0 - ramp(figure.person.age_years, 0.1, 2.5);
  const double x = static_cast<double>(figure.of(Landmark::kMidclavicularPoint).x);
  const Section s = map.section(-10.0 * scale_);
  midclavicular_rad_ = arcsine(std::clamp(x / s.half_breadth_cm, 0.3, 0.8));
  sternal_rad_ = arcsine(std::clamp(0.22 * x / s.half_breadth_cm, 0.05, 0.3));
  scapular_rad_ = det::kPi - arcsine(std::clamp(0.85 * x / s.half_breadth_cm, 0.25, 0.75));
  apex_cm_ = 3.0 * scale_;
}

double Ribs::vertebra_cm(double number) const noexcept {
  return c7_cm_ - pick(kVertebra, number) * (c7_cm_ - t12_cm_);
}

double Ribs::height_cm(double number, double angle_rad) const noexcept {
  const double a = angle_rad < 0.0 ? -angle_rad : angle_rad;
  const double spine = vertebra_cm(number);
  const double side = -scale_ * pick(kMidaxillary, number);
  const double front = -scale_ * pick(kMidclavicular, number);
  const double sternum = -scale_ * pick(kSternal, number);
  const double half = 0.5 * det::kPi;
  double out = 0.0;
  if (a <= sternal_rad_) {
    out = sternum;
  } else if (a <= midclavicular_rad_) {
    out = smooth_between(a, sternal_rad_, midclavicular_rad_, sternum, front);
  } else if (a <= half) {
    out = smooth_between(a, midclavicular_rad_, half, front, side);
  } else {
    // From the spine a rib runs out level to its angle, then falls.
    const double t = ramp(a, half, det::kPi - 0.1);
    out = blend(side, spine, t * (1.35 - 0.35 * t));
  }
  // In the newborn a rib lies level, nearer to where its front is felt.
  return blend(out, 0.3 * spine + 0.7 * front, 0.7 * level_);
}

double Ribs::number_at(double height_cm, double angle_rad) const noexcept {
  double low = 0.5, high = 13.0;
  if (height_cm > this->height_cm(low, angle_rad)) return low;
  if (height_cm < this->height_cm(high, angle_rad)) return high;
  for (int i = 0; i < 24; ++i) {
    const double middle = 0.5 * (low + high);
    (this->height_cm(middle, angle_rad) > height_cm ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double Ribs::front_end_rad(double number) const noexcept {
  if (number < 7.5) return sternal_rad_;
  if (number < 8.5) return 0.55 * midclavicular_rad_;
  if (number < 9.5) return 0.9 * midclavicular_rad_;
  if (number < 10.5) return midclavicular_rad_ + 0.35;
  return number < 11.5 ? 0.5 * det::kPi + 0.35 : 0.5 * det::kPi + 0.8;
}

double Ribs::margin_cm(double angle_rad) const noexcept {
  const double a = angle_rad < 0.0 ? -angle_rad : angle_rad;
  const double joint = height_cm(7.3, 0.0), front = height_cm(8.7, midclavicular_rad_);
  const double side = height_cm(10.3, 0.5 * det::kPi);
  if (a < midclavicular_rad_) return smooth_between(a, 0.0, midclavicular_rad_, joint, front);
  if (a < 0.5 * det::kPi) return smooth_between(a, midclavicular_rad_, 0.5 * det::kPi, front, side);
  return smooth_between(a, 0.5 * det::kPi, det::kPi, side, height_cm(12.4, scapular_rad_));
}

double Ribs::lung_border_cm(double angle_rad) const noexcept {
  const double a = angle_rad < 0.0 ? -angle_rad : angle_rad;
  const double half = 0.5 * det::kPi;
  const double front = height_cm(6.0, midclavicular_rad_), side = height_cm(8.0, half);
  const double scapular = height_cm(10.0, scapular_rad_);
  if (a < midclavicular_rad_)
    return smooth_between(a, 0.0, midclavicular_rad_, height_cm(6.0, 0.0), front);
  if (a < half) return smooth_between(a, midclavicular_rad_, half, front, side);
  if (a < scapular_rad_) return smooth_between(a, half, scapular_rad_, side, scapular);
  return smooth_between(a, scapular_rad_, det::kPi, scapular, vertebra_cm(10.0));
}

double Ribs::oblique_fissure_cm(double angle_rad) const noexcept {
  const double a = angle_rad < 0.0 ? -angle_rad : angle_rad;
  const double half = 0.5 * det::kPi;
  const double spine = vertebra_cm(3.0), side = height_cm(5.2, half);
  const double front = height_cm(6.0, midclavicular_rad_);
  if (a > half) return smooth_between(a, half, det::kPi, side, spine);
  if (a > midclavicular_rad_) return smooth_between(a, midclavicular_rad_, half, front, side);
  // In front of the line it would run on below the lung.
  return front - (midclavicular_rad_ - a) * 6.0 * scale_;
}

double Ribs::horizontal_fissure_cm(double angle_rad) const noexcept {
  const double a = angle_rad < 0.0 ? -angle_rad : angle_rad;
  const double front = height_cm(4.0, sternal_rad_), side = height_cm(4.6, 0.5 * det::kPi);
  return smooth_between(a, 0.0, 0.5 * det::kPi, front, side);
}

exam::Lobe Ribs::lobe(double angle_rad, double height_cm) const noexcept {
  const bool is_low = height_cm < oblique_fissure_cm(angle_rad);
  if (angle_rad > 0.0) return is_low ? exam::Lobe::kLll : exam::Lobe::kLul;
  if (is_low) return exam::Lobe::kRll;
  const double size = -angle_rad;
  const bool is_middle =
      size < 0.5 * det::kPi + 0.1 && height_cm < horizontal_fissure_cm(angle_rad);
  return is_middle ? exam::Lobe::kRml : exam::Lobe::kRul;
}

}  // namespace phren::acoustics
