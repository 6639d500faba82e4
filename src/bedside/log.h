// The encounter log: what one learner did with one case, as timed actions. It is the only truth
// that is kept; sound, monitor, debrief and mark are worked out from it again.
//
// Units:   time_s in seconds since the encounter began, never falling from one action to the next.
// Source:  docs/formats/encounter.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "acoustics/layers.h"
#include "acoustics/listening.h"
#include "exam/types.h"
#include "patient/config.h"
#include "patient/patient.h"

namespace phren::bedside {

using acoustics::Head;
using patient::Manoeuvre;
enum class Clothing { kBare, kShirt, kJacket };
// 0 bare skin .. 1 a thick coat: ENGINEERING.
constexpr double thickness_of(Clothing clothing) {
  return clothing == Clothing::kBare ? 0.0 : clothing == Clothing::kShirt ? 0.3 : 0.9;
}
enum class Look { kLook, kFeel, kPercuss, kAsk };

// What a learner can do. Ids are those of data/ (sites, findings, treatments, conditions).
struct Place {  // the chestpiece, anywhere on the skin
  exam::TorsoPoint point;
  double pressure = acoustics::kUsualPressure;  // 0 barely touching .. 1 pressed hard
};
struct Lift {};
struct TurnHead {
  Head head = Head::kDiaphragm;
};
// What one listens with and how real the chest sounds. What is not given stays as it was; `without`
// always says anew which layers (acoustics/layers.h) are left out of that.
struct Listen {
  std::optional<acoustics::Realness> realness;
  std::string instrument_id;  // of data/instruments; empty: as before
  std::vector<std::string> without;
};
struct Expose {  // clothing off that part; no aspect = the whole chest
  std::optional<exam::Aspect> aspect;
};
struct Cover {};
struct Instruct {
  Manoeuvre manoeuvre = Manoeuvre::kDeep;
  double seconds = 20.0;
};
struct SetPosture {
  patient::Posture posture = patient::Posture::kSitting;
};
struct Examine {  // look at, feel, percuss or ask for one finding
  Look how = Look::kLook;
  std::string finding_id;
  std::string site_id;  // may be empty
};
struct Tap {  // one finger tap, heard through the air; the note is judged by ear
  exam::TorsoPoint point;
};
struct Measure {
  std::string vital;              // field of exam::VitalSigns: "spo2_percent", ...
  std::optional<double> value{};  // what the learner read or counted
};
struct Treat {
  std::string treatment_id;
  exam::Side side = exam::Side::kMidline;
};
struct StopTreatment {
  std::string treatment_id;
};
struct Report {  // the learner says what was found, or looked for and not found
  exam::Finding finding;
  Report() { finding.presence = exam::Presence::kPresent; }
  explicit Report(exam::Finding found) : finding(std::move(found)) {}
};
struct Rank {  // what is going on, most likely first
  std::vector<std::string> condition_ids;
};
struct Say {  // any words: handover, explanation to the patient
  std::string text;
};
struct End {};

// What only whoever leads a round does to the body (docs/round.md); never a learner.
struct
    Steer {  // an illness of the setup, by its place there, goes to a severity in a straight line
  int condition = 0;
  double severity = 0.5;
  double seconds = 0.0;  // 0: at once
};
struct Befall {
  patient::Event event = patient::Event::kCough;
  exam::Side side = exam::Side::kMidline;
  double amount = 0.5;
};
// A chestpiece is taken into the hand: what it gave before does not matter any more.
struct TakeUp {};

using Deed =
    std::variant<Place, Lift, TurnHead, Expose, Cover, Instruct, SetPosture, Examine, Tap, Measure,
                 Treat, StopTreatment, Report, Rank, Say, End, Steer, Befall, TakeUp, Listen>;

// Of the lead alone.
inline bool is_steering(const Deed& deed) {
  return std::holds_alternative<Steer>(deed) || std::holds_alternative<Befall>(deed);
}
// Of one chestpiece alone: the body does not feel it, and nobody else hears it.
inline bool is_of_chestpiece(const Deed& deed) {
  return std::holds_alternative<Place>(deed) || std::holds_alternative<Lift>(deed) ||
         std::holds_alternative<TurnHead>(deed) || std::holds_alternative<Tap>(deed) ||
         std::holds_alternative<TakeUp>(deed);
}
// The body, or what covers it, is different afterwards.
inline bool is_of_body(const Deed& deed) {
  return is_steering(deed) || std::holds_alternative<Expose>(deed) ||
         std::holds_alternative<Cover>(deed) || std::holds_alternative<Instruct>(deed) ||
         std::holds_alternative<SetPosture>(deed) || std::holds_alternative<Treat>(deed) ||
         std::holds_alternative<StopTreatment>(deed);
}

struct EncounterAction {
  std::string id;  // unique in the log; sending an action twice stores it once
  double time_s = 0.0;
  Deed deed;
};

struct EncounterHeader {
  int version = 1;
  std::string encounter_id;
  std::string case_id;
  std::uint64_t seed = 1;
  std::string engine;      // version of the program that made it
  std::string started_at;  // wall clock, ISO 8601 UTC; may be empty; never used in marking
};

struct EncounterLog {
  EncounterHeader header;
  std::vector<EncounterAction> actions;
};

inline constexpr double kLongestEncounter_s = 4.0 * 3600.0;
inline constexpr std::size_t kMostActions = 20000;

}  // namespace phren::bedside
