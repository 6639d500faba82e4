// What pages ask about a bedside and get told, so that they decide nothing themselves: places, the state that a
// log leaves, its steps in words, the examination record, what was there to hear.
//
// Shapes:  a question is one JSON object with "ask"; kQuestions lists them. Answers are the structs below.
// Errors:  kMalformed or kInvalidArgument saying what is wrong with the question.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bedside/bedside.h"
#include "bedside/performance.h"
#include "bedside/steps.h"
#include "exam/sites.h"

namespace phren::bedside {

struct PlaceAnswer {
  static constexpr std::string_view kTypeName = "PlaceAnswer";
  std::string site_id;  // empty between the sites
  exam::Side side = exam::Side::kMidline;
  std::string words;
  exam::Aspect mirror_aspect = exam::Aspect::kFront;  // the same place on the other side
  double mirror_u = 0.0, mirror_v = 0.0;
};
template <class V>
void describe(V& v, PlaceAnswer& a) {
  v("site_id", a.site_id);
  v("side", a.side);
  v("words", a.words);
  v("mirror_aspect", a.mirror_aspect);
  v("mirror_u", a.mirror_u);
  v("mirror_v", a.mirror_v);
}

struct StayAnswer {
  static constexpr std::string_view kTypeName = "StayAnswer";
  std::string site_id;
  exam::Aspect aspect = exam::Aspect::kFront;
  double u = 0.0, v = 0.0, start_s = 0.0, end_s = 0.0;
  acoustics::Head head = acoustics::Head::kDiaphragm;
  bool through_clothing = false;
};
template <class V>
void describe(V& v, StayAnswer& a) {
  v("site_id", a.site_id);
  v("aspect", a.aspect);
  v("u", a.u);
  v("v", a.v);
  v("start_s", a.start_s);
  v("end_s", a.end_s);
  v("head", a.head);
  v("through_clothing", a.through_clothing);
}

struct ReadingAnswer {
  static constexpr std::string_view kTypeName = "ReadingAnswer";
  std::string vital;
  std::optional<double> value;
};
template <class V>
void describe(V& v, ReadingAnswer& a) {
  v("vital", a.vital);
  v("value", a.value);
}

// How an encounter stands after its log.
struct LogAnswer {
  static constexpr std::string_view kTypeName = "LogAnswer";
  bool is_closed = false;  // the clothing
  acoustics::Head head = acoustics::Head::kDiaphragm;
  patient::Posture posture = patient::Posture::kSitting;
  std::optional<StayAnswer> last_place;  // where the chestpiece was put last
  bool is_on_skin = false, is_ended = false;
  std::vector<StayAnswer> stays;
  std::vector<std::string> treatments_on;  // given, and not taken away since
  std::vector<ReadingAnswer> readings;     // the last one of each vital sign that was taken
  std::vector<std::string> ranking;
  acoustics::Realness realness = acoustics::Realness::kClean;
  std::string instrument_id;  // that was chosen last; empty: none was
  std::vector<std::string> without;
};
template <class V>
void describe(V& v, LogAnswer& a) {
  v("is_closed", a.is_closed);
  v("head", a.head);
  v("posture", a.posture);
  v("last_place", a.last_place);
  v("is_on_skin", a.is_on_skin);
  v("is_ended", a.is_ended);
  v("stays", a.stays);
  v("treatments_on", a.treatments_on);
  v("readings", a.readings);
  v("ranking", a.ranking);
  v("realness", a.realness);
  v("instrument_id", a.instrument_id);
  v("without", a.without);
}

struct StepAnswer {
  static constexpr std::string_view kTypeName = "StepAnswer";
  double t = 0.0;
  StepKind kind = StepKind::kOther;
  std::string deed, words;
};
template <class V>
void describe(V& v, StepAnswer& a) {
  v("t", a.t);
  v("kind", a.kind);
  v("do", a.deed);
  v("words", a.words);
}

struct FindingAnswer {
  static constexpr std::string_view kTypeName = "FindingAnswer";
  std::string finding_id;
  exam::Presence presence = exam::Presence::kAbsent;
  exam::Side side = exam::Side::kMidline;
};
template <class V>
void describe(V& v, FindingAnswer& a) {
  v("finding_id", a.finding_id);
  v("presence", a.presence);
  v("side", a.side);
}

// What one can listen with here.
struct InstrumentAnswer {
  static constexpr std::string_view kTypeName = "InstrumentAnswer";
  std::string id, name, other_side;
};
template <class V>
void describe(V& v, InstrumentAnswer& a) {
  v("id", a.id);
  v("name", a.name);
  v("other_side", a.other_side);
}

// ---- what was there to hear ----

struct CountedSound {
  static constexpr std::string_view kTypeName = "CountedSound";
  exam::Sound sound = exam::Sound::kNormal;
  int events = 0;
};
template <class V>
void describe(V& v, CountedSound& a) {
  v("sound", a.sound);
  v("events", a.events);
}
struct PlaceHeard {
  static constexpr std::string_view kTypeName = "PlaceHeard";
  std::string site_id;
  double seconds = 0.0;
  bool through_clothing = false;
  std::vector<CountedSound> sounds;
  std::optional<double> breath_in_db, breath_out_db;  // mean, above the noise
  std::string words;  // of the longest stay there: what is heard, in the trade's words
};
template <class V>
void describe(V& v, PlaceHeard& a) {
  v("site_id", a.site_id);
  v("seconds", a.seconds);
  v("through_clothing", a.through_clothing);
  v("sounds", a.sounds);
  v("breath_in_db", a.breath_in_db);
  v("breath_out_db", a.breath_out_db);
  v("words", a.words);
}
// One kind of added sound over all places.
struct SoundHeardAnswer {
  static constexpr std::string_view kTypeName = "SoundHeardAnswer";
  exam::Sound sound = exam::Sound::kNormal;
  exam::Phase phase = exam::Phase::kInspiration;  // most of it
  std::string region;                             // where most of it comes from
  std::vector<std::string> site_ids;
  std::vector<std::string> exact, family;  // finding ids that name it
};
template <class V>
void describe(V& v, SoundHeardAnswer& a) {
  v("sound", a.sound);
  v("phase", a.phase);
  v("region", a.region);
  v("site_ids", a.site_ids);
  v("exact", a.exact);
  v("family", a.family);
}
// What the learner said was heard, and what could be heard there.
struct MarkAnswer {
  static constexpr std::string_view kTypeName = "MarkAnswer";
  std::string finding_id;
  exam::Presence presence = exam::Presence::kPresent;
  exam::Side side = exam::Side::kMidline;
  std::vector<std::string> site_ids;
  std::string verdict, reason;  // "right", "nearly", "wrong"
};
template <class V>
void describe(V& v, MarkAnswer& a) {
  v("finding_id", a.finding_id);
  v("presence", a.presence);
  v("side", a.side);
  v("site_ids", a.site_ids);
  v("verdict", a.verdict);
  v("reason", a.reason);
}
struct MissedAnswer {  // could be heard, and no mark says so
  static constexpr std::string_view kTypeName = "MissedAnswer";
  std::string finding_id;
  exam::Side side = exam::Side::kMidline;
  std::vector<std::string> site_ids;
  std::string words;
};
template <class V>
void describe(V& v, MissedAnswer& a) {
  v("finding_id", a.finding_id);
  v("side", a.side);
  v("site_ids", a.site_ids);
  v("words", a.words);
}
struct MonitorAnswer {
  static constexpr std::string_view kTypeName = "MonitorAnswer";
  double t = 0.0, respiratory_rate_per_min = 0.0, spo2_percent = 0.0, heart_rate_per_min = 0.0;
};
template <class V>
void describe(V& v, MonitorAnswer& a) {
  v("t", a.t);
  v("respiratory_rate_per_min", a.respiratory_rate_per_min);
  v("spo2_percent", a.spo2_percent);
  v("heart_rate_per_min", a.heart_rate_per_min);
}
struct DebriefAnswer {
  static constexpr std::string_view kTypeName = "DebriefAnswer";
  std::vector<PlaceHeard> places;
  std::vector<SoundHeardAnswer> sounds;
  std::vector<MarkAnswer> marks;
  std::vector<MissedAnswer> missed;
  std::vector<MarkAnswer> looks;     // what was seen, by the learner's own eye
  std::vector<MissedAnswer> unseen;  // there to be seen at the end, and neither named nor asked for
  std::vector<MonitorAnswer> monitor;
  std::vector<std::string> nameable;  // every finding id that names some added sound
};
template <class V>
void describe(V& v, DebriefAnswer& a) {
  v("places", a.places);
  v("sounds", a.sounds);
  v("marks", a.marks);
  v("missed", a.missed);
  v("looks", a.looks);
  v("unseen", a.unseen);
  v("monitor", a.monitor);
  v("nameable", a.nameable);
}
DebriefAnswer debrief_of(const Performance& performance);

// The questions, with the fields they need as the pages' types have them, and the type of the answer.
struct Question {
  std::string_view ask, needs, answer;
};
inline constexpr std::array<Question, 8> kQuestions{
    {{"place", "{ aspect: Aspect; u: number; v: number }", "PlaceAnswer"},
     {"log", "{ log: readonly LogEntry[]; clothing: Clothing; posture: Posture; until_s: number }",
      "LogAnswer"},
     {"steps", "{ log: readonly LogEntry[]; labels: Record<string, string> }", "StepAnswer[]"},
     {"examination",
      "{ log: readonly LogEntry[]; case_id: string; seed: number; age_years: number; sex: Sex; "
      "setting: string; now: Vitals | null }",
      "Record<string, unknown>"},
     {"text",
      "{ log: readonly LogEntry[]; id: string; case_id: string; seed: string; started_at: string }",
      "string"},
     {"round_log",
      "{ shared: readonly object[]; own: readonly object[]; take: number; end_step: number; "
      "id: string; case_id: string; seed: string; started_at: string }",
      "string"},
     {"findings", "{}", "FindingAnswer[]"},
     {"instruments", "{}", "InstrumentAnswer[]"}}};

// `bedside` may be null where the question is not about the body now.
Result<std::string> answer(std::string_view question, const exam::SiteMap& sites,
                           const Bedside* bedside);

// The actions of a JSON array of log lines.
Result<std::vector<EncounterAction>> read_actions(std::string_view json_array);

}  // namespace phren::bedside
