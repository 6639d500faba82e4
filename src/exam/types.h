// The words of the trade as plain data: where one listens, what one hears, what one finds.
//
// Everything here is a value; text in and out is in names.h, sites.h and record.h.
// Source:  sound terms by ATS/ERS nomenclature (Pasterkamp et al., Eur Respir J 2016;47:724).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace phren::exam {

enum class Lobe { kRul, kRml, kRll, kLul, kLll };  // right upper, middle, lower; left upper, lower
inline constexpr std::size_t kNumLobes = 5;
enum class Side { kRight, kLeft, kMidline };  // always the patient's
constexpr Side side_of(Lobe lobe) {
  return lobe == Lobe::kLul || lobe == Lobe::kLll ? Side::kLeft : Side::kRight;
}

enum class Aspect { kFront, kBack, kRightSide, kLeftSide, kNeck };

// A point on the torso, in proportions of the body so that it fits every size.
// Front and neck: u = distance from the midline / half chest breadth (patient's left positive), v =
//   distance below the suprasternal notch / (notch to nipple line); the larynx is near v = -0.3.
// Sides: u = -1 at the front edge, 0 mid-axillary line, +1 at the back edge; v as at the front.
// Back: u as at the front (patient's left positive), v = 0 at the spine of C7, 1 at T12.
// Source: rib spaces and lines as taught; adult sizes: ANSUR II (US Army 2012); +/- 2 cm (ours).
struct TorsoPoint {
  Aspect aspect = Aspect::kFront;
  double u = 0.0;
  double v = 0.0;
};

struct Site {
  std::string id;        // short, stable: "F5"
  std::string name;      // "right upper front"
  std::string landmark;  // how to find it by rib space and vertical line
  Side side = Side::kMidline;
  TorsoPoint at;
  std::string mirror_id;  // same place on the other side; empty at the midline
  std::array<double, kNumLobes> lobe_weight{};  // share of each lobe in what is heard; 0..1
  double airway_weight = 0.0;                   // share of trachea and main bronchi
};

enum class Phase { kInspiration, kExpiration, kPause };

enum class Sound {
  kNormal,  // vesicular
  kBronchial,
  kTracheal,
  kWheeze,
  kRhonchus,
  kStridor,
  kSquawk,
  kFineCrackle,
  kCoarseCrackle,
  kPleuralFrictionRub,
  kGrunting,
  kGurgling,
  kHeart,
  kCough,
  kVoice,
  // What else reaches a chestpiece: no finding of the chest.
  kFirstHeartSound,
  kSecondHeartSound,
  kContactClick,  // skin, hair or cloth cracks under the chestpiece: the trap for crackles
  kContactKnock,
  kContactRub,
  kContactSlip,
  kRecorder,  // its start and its buttons
  kSwallow,
  kBowel,
  kBodyNoise,  // skin, muscle and the recorder's floor, as long as the chestpiece lies there
};

struct VitalSigns {  // empty = not taken
  std::optional<double> respiratory_rate_per_min;
  std::optional<double> spo2_percent;
  std::optional<double> etco2_mmHg;
  std::optional<double> heart_rate_per_min;
  std::optional<double> systolic_mmHg;
  std::optional<double> diastolic_mmHg;
  std::optional<double> temperature_C;
};

enum class Presence { kPresent, kAbsent, kUnknown };  // unknown: not looked for, or could not tell
enum class Basis { kHeard, kMeasured, kSeen, kFelt, kPercussed, kAsked, kMonitored };

// One thing found, or looked for and not found. `id` is a key of data/findings.toml.
struct Finding {
  std::string id;
  Presence presence = Presence::kUnknown;
  Basis basis = Basis::kHeard;
  Side side = Side::kMidline;         // midline = both sides or not sided
  std::vector<std::string> site_ids;  // where, if by site
  std::optional<Phase> phase;
  double confidence = 1.0;  // 0..1 that the observation is right
  std::string note;         // in words: "wheeze 412 Hz, 62 % of expiration"
};

// What was heard at one site, as measured or marked.
struct SiteRecord {
  std::string site_id;
  std::string audio_file;  // relative to the record; empty if none
  double level_db = 0.0;   // breath-sound level of inspiration, dB re full scale
  std::vector<Sound> sounds;
  std::vector<std::string> notes;
};

// One examination of one patient at one time.
struct Examination {
  int schema_version = 1;
  std::string case_id;
  std::uint64_t seed = 0;
  double age_years = 40.0;
  std::string sex;      // "female", "male"
  std::string setting;  // "ems_adult", "ems_child", "clinic"
  VitalSigns vital_signs;
  std::vector<SiteRecord> sites;
  std::vector<Finding> findings;
};

}  // namespace phren::exam
