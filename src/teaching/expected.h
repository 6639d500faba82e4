// What a listener should find at every site of a prepared patient: for case sheets and reports.
//
// Shapes:  one place for each site, in the order of the site map, after compare_sides().
// Errors:  what patient and data report.
// Cost:    about 0.6 s of one core: 12 s of breathing at 32 places, and the same body in health.
#pragma once

#include <vector>

#include "bedside/listener.h"
#include "bedside/setup.h"
#include "exam/sites.h"

namespace phren::teaching {

inline constexpr double kExpectedSeconds = 12.0;

Result<std::vector<bedside::HeardAt>> expected_at_sites(const bedside::Setup& setup,
                                                        const exam::SiteMap& sites, Seed seed);

}  // namespace phren::teaching
