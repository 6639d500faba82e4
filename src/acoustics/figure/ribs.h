// Where ribs, spaces, fissures and lung borders lie under the skin of one figure.
//
// Shapes:  a height in cm (as in figure.h) for an angle round the trunk; 0 front midline, pi the
//          spine; both sides are alike.
// Source:  rib steps per line for an adult man with the tenth rib 31.8 cm below the notch (from
//          memory, +- 1 cm; the tenth: ANSUR II 2012), scaled by the person's own; ribs leave the
//          spine at their vertebra and fall about 45 degrees in adults, level in the newborn
//          (Openshaw 1984 and anatomy texts). Lung borders and fissures: surface anatomy as taught
//          (rib 6, 8, 10 and T10; oblique fissure from T3 to rib 6; horizontal at rib 4).
#pragma once

#include "acoustics/figure/skin_map.h"

namespace phren::acoustics {

class Ribs {
 public:
  Ribs(const Figure& figure, const SkinMap& map) noexcept;

  // Middle of rib `number` (1 to 12, fractions lie between: 4.5 is the fourth space).
  double height_cm(double number, double angle_rad) const noexcept;
  // Which rib or space (x.5) lies at a height; below the last rib 13.
  double number_at(double height_cm, double angle_rad) const noexcept;
  // How far rib `number` reaches forward: the angle at which bone and cartilage end.
  double front_end_rad(double number) const noexcept;
  double margin_cm(double angle_rad) const noexcept;       // costal margin
  double lung_border_cm(double angle_rad) const noexcept;  // at rest
  double oblique_fissure_cm(double angle_rad) const noexcept;
  double horizontal_fissure_cm(double angle_rad) const noexcept;
  double apex_cm() const noexcept { return apex_cm_; }
  exam::Lobe lobe(double angle_rad, double height_cm) const noexcept;

  double midclavicular_rad() const noexcept { return midclavicular_rad_; }
  double scapular_rad() const noexcept { return scapular_rad_; }
  // Of the notch-to-tenth-rib length of the man the steps were measured on.
  double scale() const noexcept { return scale_; }

 private:
  double vertebra_cm(double number) const noexcept;

  double scale_ = 1.0, level_ = 0.0;  // 1: ribs lie level
  double c7_cm_, t12_cm_, apex_cm_;
  double sternal_rad_, midclavicular_rad_, scapular_rad_;
};

}  // namespace phren::acoustics
