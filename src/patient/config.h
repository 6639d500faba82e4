// A patient as plain numbers: the person, what is wrong, which treatments can be given. Everything
// the model needs, so that the browser engine runs without reading files.
//
// Units:   in the names. Errors: configure() and unpack() return what is wrong, where and why.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"
#include "patient/facts.h"
#include "patient/hidden.h"
#include "patient/mechanism.h"
#include "patient/types.h"

namespace phren::patient {

// A value at severity 0, 0.25, 0.5, 0.75 and 1, straight lines between.
struct Curve {
  std::array<Hidden<double>, 5> at{};
  double operator()(double severity) const noexcept;
};

struct ConditionEffect {
  Hidden<Mechanism> mechanism = Mechanism::kBronchospasm;
  Curve curve;
  Hidden<std::uint8_t> lobes = 0x1f;  // bit i: exam::Lobe i; used by lobe mechanisms
  Hidden<std::uint8_t> sides = 0x3;   // bit 0 right, bit 1 left; used by side mechanisms
  Hidden<double> spread = 0.0;        // relative scatter between lobes, drawn from the seed
};

struct ConditionFact {
  Hidden<Fact> fact = Fact::kDyspnoea;
  Hidden<double> from_severity = 0.0;
  Hidden<exam::Side> side = exam::Side::kMidline;
};

struct ActiveCondition {
  Hidden<double> severity = 0.5;        // at time 0 and before
  Hidden<double> severity_later = 0.5;  // reached at change_over_s, in a straight line
  Hidden<double> change_over_s = 0.0;
  Hidden<double> begins_s = -1e9;  // the illness is not there before
  std::vector<ConditionEffect> effects;
  std::vector<ConditionFact> facts;
};

enum class Operation : std::uint8_t {
  kRelieve,  // multiplies the mechanism by 1 - size x level
  kAdd,      // adds size x level, as the mechanism combines
};

struct TreatmentEffect {
  Mechanism mechanism = Mechanism::kOxygenFraction;
  Operation operation = Operation::kAdd;
  double size = 1.0;      // at the peak of one application
  bool is_held = false;   // acts while in place; else one application runs its course
  double lag_s = 0.0;     // before anything happens
  double rise_s = 1.0;    // time constant of onset
  double fade_s = 0.0;    // half-life of the effect, or time constant after removal; 0 = stays
  double chance = 1.0;    // that one application works at all
  double reach_cm = 0.0;  // > 0: works only through a chest wall thinner than about this
};

struct TreatmentCourse {
  std::vector<TreatmentEffect> effects;
};

enum class Posture : std::uint8_t {
  kSitting,
  kReclined,
  kLying,
  kLegsRaised,  // on the back
  kRightSide,   // lying on the right side
  kLeftSide,
};
inline constexpr int kNumPostures = 6;
constexpr bool is_flat(Posture p) {
  return p != Posture::kSitting && p != Posture::kReclined;
}
// What one asks of the patient, or what comes by itself.
enum class Manoeuvre : std::uint8_t {
  kTidal,
  kDeep,
  kSpeech,
  kVowel,
  kCough,
  kHold,
  kForced,
  kGasp,
  kParoxysm,
  kWhoop,
};

// What stood there when the encounter began: given at `at_s`, not after time 0.
struct BegunTreatment {
  int index = 0;  // of PatientConfig::treatments
  exam::Side side = exam::Side::kMidline;
  double at_s = 0.0;
};

struct PatientConfig {
  Person person;
  Posture posture = Posture::kSitting;
  double before_s = 900.0;  // time with the illness before time 0
  double step_s = 1.0 / 128.0;
  std::vector<ActiveCondition> conditions;
  std::vector<TreatmentCourse> treatments;  // an Action names one by its place here
  std::vector<BegunTreatment> begun{};      // in the order in which they were given
};

// ---- what a case says ----

struct ConditionUse {
  std::string id;
  double severity = 0.5;                   // 0..1
  exam::Side side = exam::Side::kMidline;  // midline: the condition's own rule
  int lobe = -1;                           // exam::Lobe, or -1
  double severity_later = -1.0;            // 0..1, or -1: the condition's natural course
  double change_over_min = 0.0;
  bool is_steady = false;  // no natural course: stays as it is
};

struct TreatmentUse {  // what was given before the encounter; a held one is still in place
  std::string id;
  exam::Side side = exam::Side::kMidline;
  double minutes_before = 0.0;  // not more than those of the setup
};

struct PatientSetup {
  Person person;
  std::vector<ConditionUse> conditions;
  double minutes_before = 15.0;  // 0..60, time with the illness before the encounter
  Posture posture = Posture::kSitting;
  std::vector<TreatmentUse> treatments{};
};

class Conditions;
class Treatments;

// kInvalidArgument naming the field (or the person's), kNotFound for an unknown condition or treatment.
Result<PatientConfig> configure(const PatientSetup& setup, const Conditions& conditions,
                                const Treatments& treatments);

// As numbers and back, for the browser engine. unpack() rejects anything pack() cannot have made.
std::vector<double> pack(const PatientConfig& config);
Result<PatientConfig> unpack(std::span<const double> numbers);

}  // namespace phren::patient
