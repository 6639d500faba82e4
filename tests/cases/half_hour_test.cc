// Each prepared patient left alone for half an hour: no figure that no living or dying body could have.
#include <gtest/gtest.h>

#include <cmath>

#include "base/files.h"
#include "bedside/bedside.h"
#include "teaching/library.h"

namespace phren::teaching {
namespace {

constexpr double kEvery_s = 10.0, kHalfHour_s = 1800.0;

struct Range {
  const char* name;
  double low, high;
};

// Limits of what a monitor shows of people, the dying included: from memory.
void expect_possible(const patient::Monitor& m, double time_s, const std::string& id) {
  const std::pair<Range, double> all[] = {{{"breaths per min", 0, 120}, m.respiratory_rate_per_min},
                                          {{"SpO2", 0, 100}, m.spo2_percent},
                                          {{"EtCO2", 0, 150}, m.etco2_mmHg},
                                          {{"pulse", 0, 250}, m.heart_rate_per_min},
                                          {{"systolic", 0, 260}, m.systolic_mmHg},
                                          {{"diastolic", 0, 160}, m.diastolic_mmHg},
                                          {{"temperature", 25, 43}, m.temperature_C}};
  for (const auto& [range, value] : all) {
    // What cannot be measured shows nothing, which is no figure.
    if (std::isnan(value)) continue;
    EXPECT_GE(value, range.low) << id << ' ' << range.name << " after " << time_s << " s";
    EXPECT_LE(value, range.high) << id << ' ' << range.name << " after " << time_s << " s";
  }
  if (!std::isnan(m.systolic_mmHg) && m.systolic_mmHg > 0.0) {
    EXPECT_GE(m.systolic_mmHg, m.diastolic_mmHg) << id << " after " << time_s << " s";
  }
}

TEST(HalfHourSlow, NoAbsurdFigureInAnyPreparedPatient) {
  const auto library = Library::load(data_directory()).value();
  for (const Case& one : library->cases) {
    const auto setup =
        setup_of(one, library->conditions, library->treatments, library->instruments).value();
    auto bedside = bedside::Bedside::make(setup, Seed{1}, 8000.0).value();
    for (double t = kEvery_s; t <= kHalfHour_s; t += kEvery_s) {
      bedside.skip(kEvery_s);
      expect_possible(bedside.patient().monitor(), t, one.id);
      for (const auto& lobe : bedside.now().lobe) {
        ASSERT_TRUE(std::isfinite(lobe.flow_L_per_s)) << one.id << " after " << t << " s";
      }
      if (HasFailure()) break;
    }
  }
}

}  // namespace
}  // namespace phren::teaching
