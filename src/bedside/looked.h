// What a learner says was seen, against what was there to be seen at that moment.
//
// Shapes:  looks come in the order of their times, one per finding and side: the learner's last word on it,
//          before being told. Whoever has asked in words (Examine) was told, and is judged no more.
// Errors:  none. What the body cannot show (a baby's posture on the hands) is kNotJudged.
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bedside/log.h"
#include "bedside/verdict.h"
#include "exam/body_part.h"
#include "exam/types.h"

namespace phren::bedside {

// Where on the body a finding is to be seen, as the figure draws it (src/acoustics/figure).
struct SeenAt {
  std::string_view finding_id;
  exam::BodyPart part;
};
inline constexpr std::array<SeenAt, 18> kSeenAt{
    {{"cyanosis", exam::BodyPart::kFace},
     {"pallor", exam::BodyPart::kFace},
     {"diaphoresis", exam::BodyPart::kFace},
     {"altered_mental_state", exam::BodyPart::kFace},
     {"nasal_flaring", exam::BodyPart::kFace},
     {"angioedema", exam::BodyPart::kFace},
     {"urticaria", exam::BodyPart::kFace},
     {"drooling", exam::BodyPart::kFace},
     {"accessory_muscle_use", exam::BodyPart::kNeck},
     {"raised_jugular_veins", exam::BodyPart::kNeck},
     {"tracheal_deviation", exam::BodyPart::kNeck},
     {"retractions", exam::BodyPart::kNeck},
     {"asymmetric_chest_rise", exam::BodyPart::kTrunk},
     {"retractions", exam::BodyPart::kTrunk},
     {"paradoxical_chest_movement", exam::BodyPart::kTrunk},
     {"abdominal_paradox", exam::BodyPart::kTrunk},
     {"urticaria", exam::BodyPart::kTrunk},
     {"tripod_position", exam::BodyPart::kBearing}}};
bool is_seen_finding(std::string_view finding_id);

struct LookedAt {
  std::string action_id;
  double time_s = 0.0;
  exam::Finding said;
  std::vector<exam::Finding> there;  // what was to be found then; empty until replayed
};

// Takes the deeds of a log one by one.
class Looks {
 public:
  void note(const EncounterAction& action);
  const std::vector<LookedAt>& all() const { return looks_; }
  bool is_told(std::string_view finding_id) const;
  std::vector<LookedAt>& all() { return looks_; }

 private:
  std::vector<LookedAt> looks_;
  std::vector<std::string> told_;  // what was asked for in words
};

JudgedMark judge_look(const LookedAt& look);
// What is to be seen among `there` and was neither named nor asked for.
std::vector<MissedFinding> missed_looks(const Looks& looks, std::span<const exam::Finding> there);

}  // namespace phren::bedside
