#include "patient/patient.h"

#include <gtest/gtest.h>

#include "base/files.h"
#include "patient/conditions.h"

namespace phren::patient {
namespace {

TEST(Patient, HealthyAdultBreathesNormally) {
  Patient p = *Patient::make(PatientConfig{}, Seed{1});
  p.advance_to(60.0);
  EXPECT_NEAR(p.inside().paco2_mmHg, 40.0, 3.0);
}

}  // namespace
}  // namespace phren::patient
