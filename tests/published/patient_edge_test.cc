// Runs the second table of published values (rows in patient_edge_*.cc) and prints every figure.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "patient_edge_rows.h"

namespace phren::patient {
namespace {

void run(const std::vector<EdgeRow>& rows) {
  int held = 0;
  for (const EdgeRow& row : rows) {
    const double ours = row.measure();
    const bool holds = ours >= row.low && ours <= row.high;
    held += holds ? 1 : 0;
    std::printf("    %-4s %-74s ours %9.3f  allowed %8.3f to %8.3f  %s\n", row.id.data(),
                row.what.data(), ours, row.low, row.high,
                holds                             ? "holds"
                : row.standing == Standing::kOpen ? "open"
                                                  : "FAILS");
    if (row.standing != Standing::kOpen) {  // an open one that holds is printed as holding
      EXPECT_TRUE(holds) << row.id << " " << row.what << ": " << ours << ", source " << row.source;
    }
  }
  std::printf("    %d of %zu rows hold\n", held, rows.size());
}

TEST(PublishedPatientEdgeSlow, TenRowsPerAge) {
  run(edge_rows_by_age());
}
TEST(PublishedPatientEdgeSlow, Treatments) {
  run(edge_rows_of_treatments());
}
TEST(PublishedPatientEdgeSlow, Courses) {
  run(edge_rows_of_courses());
}

}  // namespace
}  // namespace phren::patient
