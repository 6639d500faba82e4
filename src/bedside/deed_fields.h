// The fields of each deed, told once: reading and writing JSON, and the pages' types, follow from here.
//
// Shapes:  a visitor has number(key, value, low, high, need), text(key, value, need, longest),
//          texts(key, list, need), word(key, value, need) for an enumeration with words, and
//          part(key, aspect), where none stands for the whole chest. What is not needed keeps the
//          value that it has.
#pragma once

#include "bedside/log.h"
#include "exam/place_words.h"

namespace phren::bedside {

enum class Need { kMust, kMay };
inline constexpr std::size_t kIdBytes = 64, kNoteBytes = 1000, kSpeechBytes = 4000;

template <class V>
void fields(V& v, exam::TorsoPoint& d) {
  v.word("aspect", d.aspect, Need::kMust);
  v.number("u", d.u, -exam::kSkinReach, exam::kSkinReach, Need::kMust);
  v.number("v", d.v, -exam::kSkinReach, exam::kSkinReach, Need::kMust);
}
template <class V>
void fields(V& v, Place& d) {
  fields(v, d.point);
  v.number("pressure", d.pressure, 0.0, 1.0, Need::kMay);
}
template <class V>
void fields(V&, Lift&) {}
template <class V>
void fields(V& v, TurnHead& d) {
  v.word("head", d.head, Need::kMust);
}
template <class V>
void fields(V& v, Expose& d) {
  v.part("part", d.aspect);
}
template <class V>
void fields(V&, Cover&) {}
template <class V>
void fields(V& v, Instruct& d) {
  v.word("manoeuvre", d.manoeuvre, Need::kMust);
  v.number("seconds", d.seconds, 0.0, 120.0, Need::kMay);
}
template <class V>
void fields(V& v, SetPosture& d) {
  v.word("posture", d.posture, Need::kMust);
}
template <class V>
void fields(V& v, Examine& d) {
  v.word("how", d.how, Need::kMust);
  v.text("finding", d.finding_id, Need::kMust, kIdBytes);
  v.text("site", d.site_id, Need::kMay, kIdBytes);
}
template <class V>
void fields(V& v, Tap& d) {
  fields(v, d.point);
}
template <class V>
void fields(V& v, Measure& d) {
  v.vital("vital", d.vital);
  v.number("value", d.value, 0.0, 1000.0);
}
template <class V>
void fields(V& v, Treat& d) {
  v.text("treatment", d.treatment_id, Need::kMust, kIdBytes);
  v.word("side", d.side, Need::kMay);
}
template <class V>
void fields(V& v, StopTreatment& d) {
  v.text("treatment", d.treatment_id, Need::kMust, kIdBytes);
}
template <class V>
void fields(V& v, Report& d) {
  exam::Finding& f = d.finding;
  v.text("finding", f.id, Need::kMust, kIdBytes);
  v.word("presence", f.presence, Need::kMay);
  v.word("basis", f.basis, Need::kMay);
  v.word("side", f.side, Need::kMay);
  v.texts("sites", f.site_ids, Need::kMay);
  v.word("phase", f.phase);
  v.number("confidence", f.confidence, 0.0, 1.0, Need::kMay);
  v.text("note", f.note, Need::kMay, kNoteBytes);
}
template <class V>
void fields(V& v, Rank& d) {
  v.texts("conditions", d.condition_ids, Need::kMust);
}
template <class V>
void fields(V& v, Say& d) {
  v.text("text", d.text, Need::kMust, kSpeechBytes);
}
template <class V>
void fields(V&, End&) {}
template <class V>
void fields(V& v, Listen& d) {
  v.word("realness", d.realness);
  v.text("instrument", d.instrument_id, Need::kMay, kIdBytes);
  v.texts("without", d.without, Need::kMay);
}

template <class V>
void fields(V& v, Steer& d) {
  v.whole("condition", d.condition, 0, 15);
  v.number("severity", d.severity, 0.0, 1.0, Need::kMust);
  v.number("seconds", d.seconds, 0.0, 3600.0, Need::kMay);
}
template <class V>
void fields(V& v, Befall& d) {
  v.word("event", d.event, Need::kMust);
  v.word("side", d.side, Need::kMay);
  v.number("amount", d.amount, 0.0, 1.0, Need::kMay);
}
template <class V>
void fields(V&, TakeUp&) {}

// In the order of the variant's alternatives.
inline constexpr std::array<std::string_view, std::variant_size_v<Deed>> kDeedNames{
    "place",   "lift", "head",    "expose", "cover",   "instruct", "posture",
    "examine", "tap",  "measure", "treat",  "stop",    "report",   "rank",
    "say",     "end",  "steer",   "befall", "take_up", "listen"};
// What was done last, for somebody who looks across the room.
inline constexpr std::array<std::string_view, std::variant_size_v<Deed>> kDeedLabels{
    "chestpiece on",       "chestpiece off",        "chestpiece turned",    "clothing opened",
    "clothing closed",     "asked for a breath",    "changed the position", "looked, felt or asked",
    "percussed",           "took a vital sign",     "gave a treatment",     "stopped a treatment",
    "said a finding",      "ranked explanations",   "handed over",          "finished",
    "changed the illness", "made something happen", "chestpiece taken up",  "listens otherwise"};

}  // namespace phren::bedside
