// The words for what hands do at a bedside, as logs and case files write them, and the pages say them.
#pragma once

#include "acoustics/layers.h"
#include "acoustics/listening.h"
#include "acoustics/types.h"
#include "base/words.h"
#include "bedside/log.h"
#include "exam/words.h"
#include "patient/config.h"
#include "patient/signs.h"

namespace phren {

template <>
inline constexpr std::array<Word<acoustics::Head>, 2> kWords<acoustics::Head>{
    {{acoustics::Head::kDiaphragm, "diaphragm"}, {acoustics::Head::kBell, "bell"}}};
template <>
inline constexpr std::array<Word<acoustics::Surroundings>, 6> kWords<acoustics::Surroundings>{
    {{acoustics::Surroundings::kQuiet, "quiet"},
     {acoustics::Surroundings::kWard, "ward"},
     {acoustics::Surroundings::kStreet, "street"},
     {acoustics::Surroundings::kCabin, "ambulance"},
     {acoustics::Surroundings::kSiren, "ambulance_siren"},
     {acoustics::Surroundings::kHelicopter, "helicopter"}}};
inline constexpr std::array<Word<acoustics::Surroundings>, 6> kRoomLabels{
    {{acoustics::Surroundings::kQuiet, "a quiet room"},
     {acoustics::Surroundings::kWard, "a ward"},
     {acoustics::Surroundings::kStreet, "a street"},
     {acoustics::Surroundings::kCabin, "a moving ambulance"},
     {acoustics::Surroundings::kSiren, "an ambulance with its siren on"},
     {acoustics::Surroundings::kHelicopter, "a helicopter"}}};
inline constexpr std::array<Word<acoustics::Realness>, 3> kRealnessLabels{
    {{acoustics::Realness::kClean, "clean"},
     {acoustics::Realness::kClassroom, "as in a classroom"},
     {acoustics::Realness::kPatient, "as on a patient"}}};
template <>
inline constexpr std::array<Word<acoustics::Region>, 12> kWords<acoustics::Region>{
    {{acoustics::Region::kRul, "right upper lobe"},
     {acoustics::Region::kRml, "right middle lobe"},
     {acoustics::Region::kRll, "right lower lobe"},
     {acoustics::Region::kLul, "left upper lobe"},
     {acoustics::Region::kLll, "left lower lobe"},
     {acoustics::Region::kUpperAirway, "upper airway"},
     {acoustics::Region::kTrachea, "trachea"},
     {acoustics::Region::kHeart, "heart"},
     {acoustics::Region::kPleura, "pleura"},
     {acoustics::Region::kRoom, "room"},
     {acoustics::Region::kContact, "contact"},
     {acoustics::Region::kGut, "gut"}}};
template <>
inline constexpr std::array<Word<patient::Manoeuvre>, 7> kWords<patient::Manoeuvre>{
    {{patient::Manoeuvre::kTidal, "breathe_normally"},
     {patient::Manoeuvre::kDeep, "breathe_deeply"},
     {patient::Manoeuvre::kHold, "hold_breath"},
     {patient::Manoeuvre::kCough, "cough"},
     {patient::Manoeuvre::kSpeech, "speak"},
     {patient::Manoeuvre::kVowel, "say_vowel"},
     {patient::Manoeuvre::kForced, "forced_breath"}}};
template <>
inline constexpr std::array<Word<patient::Posture>, 3> kWords<patient::Posture>{
    {{patient::Posture::kSitting, "sitting"},
     {patient::Posture::kReclined, "reclined"},
     {patient::Posture::kLying, "lying"}}};
inline constexpr std::array<Word<patient::Posture>, 3> kPostureLabels{
    {{patient::Posture::kSitting, "sitting up"},
     {patient::Posture::kReclined, "leaning back"},
     {patient::Posture::kLying, "lying"}}};
template <>
inline constexpr std::array<Word<patient::Event>, patient::kNumEvents> kWords<patient::Event>{
    {{patient::Event::kVomit, "vomit"},
     {patient::Event::kTire, "tire"},
     {patient::Event::kOneWayLeak, "one_way_leak"},
     {patient::Event::kTornLung, "torn_lung"},
     {patient::Event::kCough, "cough"}}};
inline constexpr std::array<Word<patient::Event>, patient::kNumEvents> kEventLabels{
    {{patient::Event::kVomit, "Vomits"},
     {patient::Event::kTire, "Tires"},
     {patient::Event::kOneWayLeak, "The leak becomes one-way"},
     {patient::Event::kTornLung, "The lung tears"},
     {patient::Event::kCough, "Coughs"}}};
template <>
inline constexpr std::array<Word<patient::Sex>, 2> kWords<patient::Sex>{
    {{patient::Sex::kFemale, "female"}, {patient::Sex::kMale, "male"}}};
template <>
inline constexpr std::array<Word<bedside::Look>, 4> kWords<bedside::Look>{
    {{bedside::Look::kLook, "look"},
     {bedside::Look::kFeel, "feel"},
     {bedside::Look::kPercuss, "percuss"},
     {bedside::Look::kAsk, "ask"}}};
template <>
inline constexpr std::array<Word<bedside::Clothing>, 3> kWords<bedside::Clothing>{
    {{bedside::Clothing::kBare, "bare"},
     {bedside::Clothing::kShirt, "shirt"},
     {bedside::Clothing::kJacket, "jacket"}}};
}  // namespace phren

namespace phren::bedside {

// What one asks of the patient: on a button, in a list of steps, and how long it is asked for.
struct Asked {
  patient::Manoeuvre manoeuvre;
  std::string_view label, step;
  double seconds;
  std::string_view key;  // of the pages; without one there is no button either
};
inline constexpr std::array<Asked, 7> kAsked{
    {{patient::Manoeuvre::kDeep, "Breathe deeply", "Asked for deep breaths", 30.0, "d"},
     {patient::Manoeuvre::kHold, "Hold", "Asked to hold the breath", 10.0, "h"},
     {patient::Manoeuvre::kCough, "Cough", "Asked for a cough", 2.0, "c"},
     {patient::Manoeuvre::kVowel, "Say “ee”", "Asked to say “ee”", 4.0, "e"},
     {patient::Manoeuvre::kSpeech, "Count aloud", "Asked to count aloud", 6.0, "s"},
     {patient::Manoeuvre::kTidal, "Breathe normally", "Let the breathing settle", 0.0, ""},
     {patient::Manoeuvre::kForced, "One hard breath out", "Asked for one hard breath out", 6.0,
      ""}}};

// How one looks for a finding that is found in that way.
constexpr Look look_for(exam::Basis basis) {
  return basis == exam::Basis::kFelt        ? Look::kFeel
         : basis == exam::Basis::kPercussed ? Look::kPercuss
         : basis == exam::Basis::kAsked     ? Look::kAsk
                                            : Look::kLook;
}

// The vital signs: the field of exam::VitalSigns, the words, and what the monitor shows. Some stay on the
// patient once they are put on; the others are taken anew each time.
struct VitalKind {
  std::string_view id, label;
  double patient::Monitor::* shown;
  std::optional<double> exam::VitalSigns::* taken;
  bool stays_on = false;
};
inline constexpr std::array<VitalKind, 7> kVitals{
    {{"respiratory_rate_per_min", "breathing rate", &patient::Monitor::respiratory_rate_per_min,
      &exam::VitalSigns::respiratory_rate_per_min},
     {"spo2_percent", "SpO2", &patient::Monitor::spo2_percent, &exam::VitalSigns::spo2_percent,
      true},
     {"etco2_mmHg", "EtCO2", &patient::Monitor::etco2_mmHg, &exam::VitalSigns::etco2_mmHg, true},
     {"heart_rate_per_min", "heart rate", &patient::Monitor::heart_rate_per_min,
      &exam::VitalSigns::heart_rate_per_min, true},
     {"systolic_mmHg", "systolic BP", &patient::Monitor::systolic_mmHg,
      &exam::VitalSigns::systolic_mmHg},
     {"diastolic_mmHg", "diastolic BP", &patient::Monitor::diastolic_mmHg,
      &exam::VitalSigns::diastolic_mmHg},
     {"temperature_C", "temperature", &patient::Monitor::temperature_C,
      &exam::VitalSigns::temperature_C}}};
// None for an unknown id.
constexpr const VitalKind* vital_kind(std::string_view id) {
  for (const VitalKind& kind : kVitals) {
    if (kind.id == id) return &kind;
  }
  return nullptr;
}

}  // namespace phren::bedside
