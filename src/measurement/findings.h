// What an examiner would write down after listening at these sites, from what was measured there.
//
// Shapes:  one finding per id and side, with the sites where it was measured; ids are keys of
//          data/findings.toml. Nothing measured at a site is "unknown", never "absent", when the
//          recording there is not usable.
// Source:  gates of our own on measures whose definitions are published (types.h); a side is called
//          softer only against its mirror site and the rest of the chest.
// Limits:  words of the trade, not a diagnosis.
#pragma once

#include <vector>

#include "measurement/types.h"

namespace phren::measurement {

struct SiteMeasurement {
  exam::Site site;
  RecordingMeasurement measurement;
};

// What was heard at one site, as sounds and words for an examination record.
exam::SiteRecord site_record_of(const SiteMeasurement& site);
std::vector<exam::Finding> findings_of(const std::vector<SiteMeasurement>& sites);

}  // namespace phren::measurement
