// What happened in an encounter, laid out so that it can be marked and shown: where the chestpiece
// was and for how long, through cloth or not, what could be heard there, what was done and said.
//
// Units:   seconds of encounter time; distances on the skin in cm of an average adult.
// Source:  of the log alone (timeline_of); what was audible is added by replay (replay.h).
#pragma once

#include <array>
#include <string>
#include <vector>

#include "bedside/heard.h"
#include "bedside/log.h"
#include "bedside/looked.h"
#include "bedside/words.h"
#include "exam/sites.h"
#include "exam/types.h"
#include "patient/signs.h"

namespace phren::bedside {

// One kind of sound in one phase, as far as it could be heard during a stay.
struct HeardSound {
  exam::Sound sound = exam::Sound::kNormal;
  exam::Phase phase = exam::Phase::kInspiration;
  int events = 0;
  double seconds = 0.0;                                             // summed length of the events
  double loudest_db = 0.0;                                          // above the background there
  double sum_db = 0.0;                                              // of all events
  std::array<int, std::size(kWords<acoustics::Region>)> regions{};  // how many came from each
};

// The chestpiece held in one place, one way.
struct Stay {
  exam::TorsoPoint point;
  std::string site_id;  // nearest listening site, empty if none lies within kSiteReach_cm
  double start_s = 0.0;
  double end_s = 0.0;
  Head head = Head::kDiaphragm;
  double pressure = acoustics::kUsualPressure;
  bool through_clothing = false;
  std::string action_id;          // the placing that began it
  std::vector<HeardSound> heard;  // empty until replayed
  HeardAt found;                  // the same in the trade's words
  double seconds() const { return end_s - start_s; }
};

struct TimedDeed {
  std::string action_id;
  double time_s = 0.0;
  Deed deed;
};

struct MonitorPoint {
  double time_s = 0.0;
  patient::Monitor shown;
};

struct Performance {
  double end_s = 0.0;
  std::vector<Stay> stays;
  std::vector<TimedDeed> deeds;           // everything but placing and lifting, in order
  std::vector<TimedDeed> last_reports;    // one per finding and side: the last word on it
  Looks looks;                            // what the learner saw
  std::vector<exam::Finding> at_the_end;  // what was to be found then; empty until replayed
  std::vector<std::string> ranking;       // the last one
  bool replayed = false;                  // `heard` and `monitor` are filled
  std::vector<MonitorPoint> monitor;      // once a second
};

// A place is a place, not a point: landmarks are found to about 2 cm and sites lie 5-8 cm apart
// (ENGINEERING).
inline constexpr double kSiteReach_cm = 4.5;

// Id of the site nearest to a point of the same aspect within `reach_cm`, or "".
std::string nearest_site(const exam::SiteMap& sites, const exam::TorsoPoint& point,
                         double reach_cm = kSiteReach_cm);

// `worn`: the clothing the patient comes in. A stay that is not over ends at `until_s`, if that is after
// the last action.
Performance timeline_of(const EncounterLog& log, const exam::SiteMap& sites, Clothing worn,
                        double until_s = 0.0);

}  // namespace phren::bedside
