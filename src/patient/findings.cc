#include "patient/findings.h"

#include <string>

namespace phren::patient {
namespace {

using exam::Basis;
using exam::Finding;
using exam::Presence;
using exam::Side;

class List {
 public:
  void add(std::string_view id, Basis basis, bool is_present, Side side = Side::kMidline,
           std::string note = {}) {
    Finding f;
    f.id = std::string(id);
    f.basis = basis;
    f.presence = is_present ? Presence::kPresent : Presence::kAbsent;
    f.side = is_present ? side : Side::kMidline;
    f.note = std::move(note);
    found_.push_back(std::move(f));
  }
  std::vector<Finding> take() { return std::move(found_); }

 private:
  std::vector<Finding> found_;
};

Side side_of_index(std::size_t k) {
  return k == 0 ? Side::kRight : Side::kLeft;
}

void look(const Signs& s, const Person& person, List& list) {
  const Basis seen = Basis::kSeen;
  list.add("accessory_muscle_use", seen, s.accessory_muscles > 0.25);
  list.add("retractions", seen, s.retractions > 0.25);
  if (person.age_years < 8.0) list.add("nasal_flaring", seen, s.nasal_flaring > 0.3);
  if (person.age_years > 3.0) list.add("tripod_position", seen, s.tripod);
  // Above 3 cm over the sternal angle, 8 cmH2O over the atrium (textbook, from memory).
  list.add("raised_jugular_veins", seen, s.jugular_venous_mmHg > 6.0);
  list.add("cyanosis", seen, s.cyanosis > 0.2);
  list.add("pallor", seen, s.pallor > 0.35);
  list.add("diaphoresis", seen, s.diaphoresis > 0.3);
  list.add("urticaria", seen, s.urticaria > 0.15);
  list.add("angioedema", seen, s.angioedema > 0.15);
  list.add("altered_mental_state", seen, s.consciousness != Consciousness::kAlert, Side::kMidline,
           std::string(to_string(s.consciousness)));
  list.add("exhaustion", seen, s.exhaustion > 0.5);
  if (s.speech != Speech::kTooYoung) {
    list.add("unable_to_speak_sentences", Basis::kAsked, s.speech != Speech::kSentences,
             Side::kMidline, std::string(to_string(s.speech)));
  }
  list.add("pink_frothy_sputum", seen, s.frothy_sputum > 0.3);
  // A loose piece of the wall must be of some size to be seen (ENGINEERING, as the limits above).
  const double flail = s.flail[0] > s.flail[1] ? s.flail[0] : s.flail[1];
  list.add("paradoxical_chest_movement", seen, flail > 0.15,
           s.flail[0] > s.flail[1] ? Side::kRight : Side::kLeft);
  list.add("abdominal_paradox", seen, s.abdominal_paradox > 0.3);
}

void feel_and_tap(const Signs& s, List& list) {
  const double right = s.chest_rise[0], left = s.chest_rise[1];
  const double larger = right > left ? right : left, smaller = right > left ? left : right;
  list.add("asymmetric_chest_rise", Basis::kFelt, larger > 0.2 && smaller < 0.75 * larger,
           right < left ? Side::kRight : Side::kLeft);
  const double shift = s.tracheal_deviation;
  list.add("tracheal_deviation", Basis::kFelt, shift > 0.75 || shift < -0.75,
           shift > 0.0 ? Side::kLeft : Side::kRight);
  list.add("subcutaneous_emphysema", Basis::kFelt, s.subcutaneous_air > 0.3);
  for (std::size_t k = 0; k < 2; ++k) {
    bool is_dull = false, is_hyper = false;
    for (std::size_t i = 0; i < exam::kNumLobes; ++i) {
      if ((i < 3 ? 0u : 1u) != k) continue;
      const Percussion p = s.percussion[i];
      is_dull = is_dull || p == Percussion::kDull || p == Percussion::kStonyDull;
      is_hyper = is_hyper || p == Percussion::kHyperresonant;
    }
    if (is_dull) list.add("dull_percussion", Basis::kPercussed, true, side_of_index(k));
    if (is_hyper) list.add("hyperresonant_percussion", Basis::kPercussed, true, side_of_index(k));
  }
}

bool any(const std::vector<Finding>& found, std::string_view id) {
  for (const Finding& f : found) {
    if (f.id == id) return true;
  }
  return false;
}

}  // namespace

std::vector<Finding> findings_of(const Signs& s, const Monitor& m, const Person& person) {
  List list;
  look(s, person, list);
  feel_and_tap(s, list);
  for (std::size_t i = 0; i < static_cast<std::size_t>(Fact::kCount); ++i) {
    const Fact fact = static_cast<Fact>(i);
    const FactInfo& info = info_of(fact);
    // Egophony and bronchophony are listened for at a site; the ear decides, not this list.
    if (fact == Fact::kEgophony || fact == Fact::kBronchophony) continue;
    // Nobody else can say for a baby where it hurts.
    const bool is_pain = fact == Fact::kPleuriticChestPain || fact == Fact::kChestPain;
    if (is_pain && s.speech == Speech::kTooYoung) continue;
    list.add(info.finding, info.basis, s.has(fact));
  }
  list.add("obstructive_capnogram", Basis::kMonitored, m.is_capnogram_obstructive);
  std::vector<Finding> found = list.take();
  for (const char* id : {"dull_percussion", "hyperresonant_percussion"}) {
    if (any(found, id)) continue;
    Finding f;
    f.id = id;
    f.basis = Basis::kPercussed;
    f.presence = Presence::kAbsent;
    found.push_back(std::move(f));
  }
  return found;
}

exam::VitalSigns vital_signs_of(const Monitor& m) {
  const auto whole = [](double x) { return static_cast<double>(static_cast<int>(x + 0.5)); };
  exam::VitalSigns v;
  v.respiratory_rate_per_min = whole(m.respiratory_rate_per_min);
  if (m.has_pulse) v.spo2_percent = whole(m.spo2_percent < 100.0 ? m.spo2_percent : 100.0);
  v.etco2_mmHg = whole(m.etco2_mmHg);
  v.heart_rate_per_min = m.has_pulse ? whole(m.heart_rate_per_min) : 0.0;
  if (m.has_pulse) {
    v.systolic_mmHg = whole(m.systolic_mmHg);
    v.diastolic_mmHg = whole(m.diastolic_mmHg);
  }
  v.temperature_C = static_cast<double>(static_cast<int>(m.temperature_C * 10.0 + 0.5)) / 10.0;
  return v;
}

std::string_view to_string(Consciousness value) {
  switch (value) {
    case Consciousness::kAlert:
      return "alert";
    case Consciousness::kVoice:
      return "answers to voice";
    case Consciousness::kPain:
      return "answers to pain";
    case Consciousness::kUnresponsive:
      break;
  }
  return "unresponsive";
}

std::string_view to_string(Speech value) {
  switch (value) {
    case Speech::kSentences:
      return "full sentences";
    case Speech::kPhrases:
      return "phrases";
    case Speech::kWords:
      return "single words";
    case Speech::kTooYoung:
      return "too young to speak";
    case Speech::kNone:
      break;
  }
  return "no speech";
}

std::string_view to_string(Percussion value) {
  switch (value) {
    case Percussion::kResonant:
      return "resonant";
    case Percussion::kDull:
      return "dull";
    case Percussion::kStonyDull:
      return "stony dull";
    case Percussion::kHyperresonant:
      break;
  }
  return "hyperresonant";
}

}  // namespace phren::patient
