#include "exam/names.h"

#include <array>
#include <string>
#include <utility>

namespace phren::exam {
namespace {

template <class E>
using Entry = std::pair<E, std::string_view>;

constexpr std::array<Entry<Lobe>, 5> kLobes{{{Lobe::kRul, "rul"},
                                             {Lobe::kRml, "rml"},
                                             {Lobe::kRll, "rll"},
                                             {Lobe::kLul, "lul"},
                                             {Lobe::kLll, "lll"}}};
constexpr std::array<Entry<Lobe>, 5> kLobeLabels{{{Lobe::kRul, "right upper lobe"},
                                                  {Lobe::kRml, "right middle lobe"},
                                                  {Lobe::kRll, "right lower lobe"},
                                                  {Lobe::kLul, "left upper lobe"},
                                                  {Lobe::kLll, "left lower lobe"}}};
constexpr std::array<Entry<Side>, 3> kSides{
    {{Side::kRight, "right"}, {Side::kLeft, "left"}, {Side::kMidline, "midline"}}};
constexpr std::array<Entry<Aspect>, 5> kAspects{{{Aspect::kFront, "front"},
                                                 {Aspect::kBack, "back"},
                                                 {Aspect::kRightSide, "right_side"},
                                                 {Aspect::kLeftSide, "left_side"},
                                                 {Aspect::kNeck, "neck"}}};
constexpr std::array<Entry<Phase>, 3> kPhases{{{Phase::kInspiration, "inspiration"},
                                               {Phase::kExpiration, "expiration"},
                                               {Phase::kPause, "pause"}}};
constexpr std::array<Entry<Sound>, 15> kSounds{
    {{Sound::kNormal, "normal"},
     {Sound::kBronchial, "bronchial"},
     {Sound::kTracheal, "tracheal"},
     {Sound::kWheeze, "wheeze"},
     {Sound::kRhonchus, "rhonchus"},
     {Sound::kStridor, "stridor"},
     {Sound::kSquawk, "squawk"},
     {Sound::kFineCrackle, "fine_crackle"},
     {Sound::kCoarseCrackle, "coarse_crackle"},
     {Sound::kPleuralFrictionRub, "pleural_friction_rub"},
     {Sound::kGrunting, "grunting"},
     {Sound::kGurgling, "gurgling"},
     {Sound::kHeart, "heart"},
     {Sound::kCough, "cough"},
     {Sound::kVoice, "voice"}}};
constexpr std::array<Entry<Sound>, 15> kSoundLabels{
    {{Sound::kNormal, "normal (vesicular)"},
     {Sound::kBronchial, "bronchial breathing"},
     {Sound::kTracheal, "tracheal breathing"},
     {Sound::kWheeze, "wheeze"},
     {Sound::kRhonchus, "rhonchus"},
     {Sound::kStridor, "stridor"},
     {Sound::kSquawk, "squawk"},
     {Sound::kFineCrackle, "fine crackle"},
     {Sound::kCoarseCrackle, "coarse crackle"},
     {Sound::kPleuralFrictionRub, "pleural friction rub"},
     {Sound::kGrunting, "grunting"},
     {Sound::kGurgling, "gurgling"},
     {Sound::kHeart, "heart sound"},
     {Sound::kCough, "cough"},
     {Sound::kVoice, "voice"}}};
constexpr std::array<Entry<Presence>, 3> kPresences{{{Presence::kPresent, "present"},
                                                     {Presence::kAbsent, "absent"},
                                                     {Presence::kUnknown, "unknown"}}};
constexpr std::array<Entry<Basis>, 7> kBases{{{Basis::kHeard, "heard"},
                                              {Basis::kMeasured, "measured"},
                                              {Basis::kSeen, "seen"},
                                              {Basis::kFelt, "felt"},
                                              {Basis::kPercussed, "percussed"},
                                              {Basis::kAsked, "asked"},
                                              {Basis::kMonitored, "monitored"}}};

template <class E, std::size_t N>
std::string_view name_in(const std::array<Entry<E>, N>& table, E value) {
  for (const auto& [key, name] : table) {
    if (key == value) return name;
  }
  return "unknown";
}

template <class E, std::size_t N>
Result<E> find_in(const std::array<Entry<E>, N>& table, std::string_view field,
                  std::string_view text) {
  std::string allowed = "one of ";
  for (const auto& [key, name] : table) {
    if (name == text) return key;
    if (allowed.size() > 7) allowed += ", ";
    allowed += name;
  }
  return fail(out_of_range(field, "'" + std::string(text) + "'", allowed));
}

}  // namespace

std::string_view to_string(Lobe value) {
  return name_in(kLobes, value);
}
std::string_view to_string(Side value) {
  return name_in(kSides, value);
}
std::string_view to_string(Aspect value) {
  return name_in(kAspects, value);
}
std::string_view to_string(Phase value) {
  return name_in(kPhases, value);
}
std::string_view to_string(Sound value) {
  return name_in(kSounds, value);
}
std::string_view to_string(Presence value) {
  return name_in(kPresences, value);
}
std::string_view to_string(Basis value) {
  return name_in(kBases, value);
}
std::string_view label_of(Lobe value) {
  return name_in(kLobeLabels, value);
}
std::string_view label_of(Sound value) {
  return name_in(kSoundLabels, value);
}

Result<Lobe> parse_lobe(std::string_view text) {
  return find_in(kLobes, "lobe", text);
}
Result<Side> parse_side(std::string_view text) {
  return find_in(kSides, "side", text);
}
Result<Aspect> parse_aspect(std::string_view text) {
  return find_in(kAspects, "aspect", text);
}
Result<Phase> parse_phase(std::string_view text) {
  return find_in(kPhases, "phase", text);
}
Result<Sound> parse_sound(std::string_view text) {
  return find_in(kSounds, "sound", text);
}
Result<Presence> parse_presence(std::string_view text) {
  return find_in(kPresences, "presence", text);
}
Result<Basis> parse_basis(std::string_view text) {
  return find_in(kBases, "basis", text);
}

}  // namespace phren::exam
