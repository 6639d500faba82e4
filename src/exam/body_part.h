// Parts of a person that one looks at, from the head down, and their words.
#pragma once

#include "base/words.h"

namespace phren::exam {

enum class BodyPart { kFace, kNeck, kTrunk, kBearing };

}  // namespace phren::exam

namespace phren {

template <>
inline constexpr std::array<Word<exam::BodyPart>, 4> kWords<exam::BodyPart>{
    {{exam::BodyPart::kFace, "face"},
     {exam::BodyPart::kNeck, "neck"},
     {exam::BodyPart::kTrunk, "trunk"},
     {exam::BodyPart::kBearing, "bearing"}}};
inline constexpr std::array<Word<exam::BodyPart>, 4> kBodyPartLabels{
    {{exam::BodyPart::kFace, "face"},
     {exam::BodyPart::kNeck, "neck"},
     {exam::BodyPart::kTrunk, "chest, belly"},
     {exam::BodyPart::kBearing, "posture"}}};

}  // namespace phren
