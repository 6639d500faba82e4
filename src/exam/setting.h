// Whose starting odds hold for a patient: a child's or an adult's (data/priors.csv).
#pragma once

#include <string_view>

namespace phren::exam {

inline constexpr std::string_view kChildSetting = "ems_child", kAdultSetting = "ems_adult";
inline constexpr double kAdultFrom_years = 16.0;  // as the odds were gathered

constexpr std::string_view setting_for(double age_years) {
  return age_years < kAdultFrom_years ? kChildSetting : kAdultSetting;
}

}  // namespace phren::exam
