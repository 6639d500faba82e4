// The words for the enumerations of types.h, in their order.
#pragma once

#include "base/words.h"
#include "exam/types.h"

namespace phren {

template <>
inline constexpr std::array<Word<exam::Lobe>, 5> kWords<exam::Lobe>{{{exam::Lobe::kRul, "rul"},
                                                                     {exam::Lobe::kRml, "rml"},
                                                                     {exam::Lobe::kRll, "rll"},
                                                                     {exam::Lobe::kLul, "lul"},
                                                                     {exam::Lobe::kLll, "lll"}}};
inline constexpr std::array<Word<exam::Lobe>, 5> kLobeLabels{
    {{exam::Lobe::kRul, "right upper lobe"},
     {exam::Lobe::kRml, "right middle lobe"},
     {exam::Lobe::kRll, "right lower lobe"},
     {exam::Lobe::kLul, "left upper lobe"},
     {exam::Lobe::kLll, "left lower lobe"}}};
template <>
inline constexpr std::array<Word<exam::Side>, 3> kWords<exam::Side>{
    {{exam::Side::kRight, "right"},
     {exam::Side::kLeft, "left"},
     {exam::Side::kMidline, "midline"}}};
template <>
inline constexpr std::array<Word<exam::Aspect>, 5> kWords<exam::Aspect>{
    {{exam::Aspect::kFront, "front"},
     {exam::Aspect::kBack, "back"},
     {exam::Aspect::kRightSide, "right_side"},
     {exam::Aspect::kLeftSide, "left_side"},
     {exam::Aspect::kNeck, "neck"}}};
inline constexpr std::array<Word<exam::Aspect>, 5> kAspectLabels{
    {{exam::Aspect::kFront, "front"},
     {exam::Aspect::kBack, "back"},
     {exam::Aspect::kRightSide, "right side"},
     {exam::Aspect::kLeftSide, "left side"},
     {exam::Aspect::kNeck, "neck"}}};
template <>
inline constexpr std::array<Word<exam::Phase>, 3> kWords<exam::Phase>{
    {{exam::Phase::kInspiration, "inspiration"},
     {exam::Phase::kExpiration, "expiration"},
     {exam::Phase::kPause, "pause"}}};
template <>
inline constexpr std::array<Word<exam::Sound>, 25> kWords<exam::Sound>{
    {{exam::Sound::kNormal, "normal"},
     {exam::Sound::kBronchial, "bronchial"},
     {exam::Sound::kTracheal, "tracheal"},
     {exam::Sound::kWheeze, "wheeze"},
     {exam::Sound::kRhonchus, "rhonchus"},
     {exam::Sound::kStridor, "stridor"},
     {exam::Sound::kSquawk, "squawk"},
     {exam::Sound::kFineCrackle, "fine_crackle"},
     {exam::Sound::kCoarseCrackle, "coarse_crackle"},
     {exam::Sound::kPleuralFrictionRub, "pleural_friction_rub"},
     {exam::Sound::kGrunting, "grunting"},
     {exam::Sound::kGurgling, "gurgling"},
     {exam::Sound::kHeart, "heart"},
     {exam::Sound::kCough, "cough"},
     {exam::Sound::kVoice, "voice"},
     {exam::Sound::kFirstHeartSound, "first_heart_sound"},
     {exam::Sound::kSecondHeartSound, "second_heart_sound"},
     {exam::Sound::kContactClick, "contact_click"},
     {exam::Sound::kContactKnock, "contact_knock"},
     {exam::Sound::kContactRub, "contact_rub"},
     {exam::Sound::kContactSlip, "contact_slip"},
     {exam::Sound::kRecorder, "recorder"},
     {exam::Sound::kSwallow, "swallow"},
     {exam::Sound::kBowel, "bowel"},
     {exam::Sound::kBodyNoise, "body_noise"}}};
inline constexpr std::array<Word<exam::Sound>, 25> kSoundLabels{
    {{exam::Sound::kNormal, "normal (vesicular)"},
     {exam::Sound::kBronchial, "bronchial breathing"},
     {exam::Sound::kTracheal, "tracheal breathing"},
     {exam::Sound::kWheeze, "wheeze"},
     {exam::Sound::kRhonchus, "rhonchus"},
     {exam::Sound::kStridor, "stridor"},
     {exam::Sound::kSquawk, "squawk"},
     {exam::Sound::kFineCrackle, "fine crackle"},
     {exam::Sound::kCoarseCrackle, "coarse crackle"},
     {exam::Sound::kPleuralFrictionRub, "pleural friction rub"},
     {exam::Sound::kGrunting, "grunting"},
     {exam::Sound::kGurgling, "gurgling"},
     {exam::Sound::kHeart, "heart sound"},
     {exam::Sound::kCough, "cough"},
     {exam::Sound::kVoice, "voice"},
     {exam::Sound::kFirstHeartSound, "first heart sound"},
     {exam::Sound::kSecondHeartSound, "second heart sound"},
     {exam::Sound::kContactClick, "contact click"},
     {exam::Sound::kContactKnock, "contact knock"},
     {exam::Sound::kContactRub, "contact rub"},
     {exam::Sound::kContactSlip, "slip of the chestpiece"},
     {exam::Sound::kRecorder, "recorder click"},
     {exam::Sound::kSwallow, "swallow"},
     {exam::Sound::kBowel, "bowel sound"},
     {exam::Sound::kBodyNoise, "skin, muscle and recorder noise"}}};
template <>
inline constexpr std::array<Word<exam::Presence>, 3> kWords<exam::Presence>{
    {{exam::Presence::kPresent, "present"},
     {exam::Presence::kAbsent, "absent"},
     {exam::Presence::kUnknown, "unknown"}}};
template <>
inline constexpr std::array<Word<exam::Basis>, 7> kWords<exam::Basis>{
    {{exam::Basis::kHeard, "heard"},
     {exam::Basis::kMeasured, "measured"},
     {exam::Basis::kSeen, "seen"},
     {exam::Basis::kFelt, "felt"},
     {exam::Basis::kPercussed, "percussed"},
     {exam::Basis::kAsked, "asked"},
     {exam::Basis::kMonitored, "monitored"}}};
// Sounds of every chest: no finding.
constexpr bool is_plain(exam::Sound sound) {
  return sound == exam::Sound::kNormal || sound == exam::Sound::kTracheal ||
         sound == exam::Sound::kHeart;
}
inline constexpr std::array<Word<exam::Basis>, 7> kBasisLabels{
    {{exam::Basis::kHeard, "to be heard"},
     {exam::Basis::kMeasured, "measured"},
     {exam::Basis::kSeen, "to be seen"},
     {exam::Basis::kFelt, "to be felt"},
     {exam::Basis::kPercussed, "on percussion"},
     {exam::Basis::kAsked, "when asked"},
     {exam::Basis::kMonitored, "on the monitor"}}};

}  // namespace phren
