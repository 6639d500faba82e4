// Writes web/src/generated/bedside.ts: orders of enumerations, their labels, the places of what is shown, the
// shapes of deeds, questions and answers, as the C++ has them.
//
// Usage: phren_typescript FILE; a file that is right already is left alone.
#include <cstdio>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <type_traits>
#include <utility>

#include "base/files.h"
#include "bedside/answers.h"
#include "bedside/deed_fields.h"
#include "bedside/layer_words.h"
#include "bedside/round.h"
#include "bedside/shown.h"
#include "bedside/words.h"
#include "exam/setting.h"
#include "patient/patient.h"
#include "teaching/statistics/proportion.h"

namespace {

using namespace phren;
using namespace phren::bedside;

// ---- enumerations: the list's name and the type's ----

struct Named {
  const char *list, *type;
};
template <class E>
constexpr Named kNames{};
template <>
constexpr Named kNames<exam::Side>{"sides", "Side"};
template <>
constexpr Named kNames<exam::Lobe>{"lobes", "Lobe"};
template <>
constexpr Named kNames<exam::Aspect>{"aspects", "Aspect"};
template <>
constexpr Named kNames<exam::BodyPart>{"bodyParts", "BodyPart"};
template <>
constexpr Named kNames<exam::Phase>{"phases", "Phase"};
template <>
constexpr Named kNames<exam::Sound>{"sounds", "SoundName"};
template <>
constexpr Named kNames<exam::Presence>{"presences", "Presence"};
template <>
constexpr Named kNames<exam::Basis>{"bases", "Basis"};
template <>
constexpr Named kNames<acoustics::Region>{"regions", "Region"};
template <>
constexpr Named kNames<acoustics::Head>{"heads", "Head"};
template <>
constexpr Named kNames<acoustics::Surroundings>{"rooms", "Room"};
template <>
constexpr Named kNames<patient::Manoeuvre>{"manoeuvres", "Manoeuvre"};
template <>
constexpr Named kNames<patient::Posture>{"postures", "Posture"};
template <>
constexpr Named kNames<patient::Event>{"bodyEvents", "BodyEvent"};
template <>
constexpr Named kNames<patient::Sex>{"sexes", "Sex"};
template <>
constexpr Named kNames<acoustics::Realness>{"realnesses", "Realness"};
template <>
constexpr Named kNames<acoustics::Layer>{"layers", "Layer"};
template <>
constexpr Named kNames<Look>{"looks", "Look"};
template <>
constexpr Named kNames<StepKind>{"stepKinds", "StepKind"};
template <>
constexpr Named kNames<Clothing>{"clothings", "Clothing"};

std::string quote(std::string_view text) {
  std::string out = "'";
  for (const char c : text) {
    if (c == '\'' || c == '\\') out += '\\';
    out += c;
  }
  return out + "'";
}

std::ostringstream out;

// In the order of the enumeration's values, so that a number from the engine finds its word.
template <class E>
void write_list() {
  out << "export const " << kNames<E>.list << " = [";
  for (std::size_t i = 0; i < std::size(kWords<E>); ++i) {
    out << (i > 0 ? ", " : "") << quote(word_of(static_cast<E>(i)));
  }
  out << "] as const;\nexport type " << kNames<E>.type << " = (typeof " << kNames<E>.list
      << ")[number];\n";
}

template <class E, std::size_t N>
void write_labels(const char* name, const std::array<Word<E>, N>& labels) {
  out << "export const " << name << ": Record<" << kNames<E>.type << ", string> = {\n";
  for (const auto& [value, label] : labels) {
    out << "  " << quote(word_of(value)) << ": " << quote(label) << ",\n";
  }
  out << "};\n";
}

// ---- what is shown: types first, then how to read the numbers ----

class ShownTypes {
 public:
  void number(const char* name, double) { field(name, "number"); }
  void flag(const char* name, bool) { field(name, "boolean"); }
  template <class E>
  void word(const char* name, E) {
    field(name, kNames<E>.type);
  }
  template <class Fill>
  void group(const char* name, const char* type, Fill fill) {
    field(name, type);
    nested(type, fill);
  }
  template <class Fill>
  void list(const char* name, const char* type, std::size_t, Fill fill) {
    field(name, std::string(type) + "[]");
    nested(type, [&] { fill(0); });
  }
  void finish(const std::string& type) { write(type, fields_); }

 private:
  void field(const char* name, const std::string& type) {
    fields_ += std::string("  ") + name + ": " + type + ";\n";
  }
  template <class Fill>
  void nested(const char* type, Fill fill) {
    std::string outer = std::move(fields_);
    fields_.clear();
    fill();
    write(type, fields_);
    fields_ = std::move(outer);
  }
  static void write(const std::string& type, const std::string& fields) {
    out << "export interface " << type << " {\n" << fields << "}\n";
  }
  std::string fields_;
};

class ShownReader {
 public:
  void number(const char* name, double) { item(name, next()); }
  void flag(const char* name, bool) { item(name, next() + " !== 0"); }
  template <class E>
  void word(const char* name, E) {
    item(name, std::string(kNames<E>.list) + "[" + next() + "]!");
  }
  template <class Fill>
  void group(const char* name, const char*, Fill fill) {
    text_ += std::string(name) + ": { ";
    fill();
    text_ += "}, ";
  }
  template <class Fill>
  void list(const char* name, const char*, std::size_t count, Fill fill) {
    text_ += std::string(name) + ": [";
    for (std::size_t i = 0; i < count; ++i) {
      text_ += "{ ";
      fill(i);
      text_ += "}, ";
    }
    text_ += "], ";
  }
  std::string text() const { return "{ " + text_ + "}"; }
  std::size_t length() const { return length_; }

 private:
  std::string next() { return "n[at + " + std::to_string(length_++) + "]!"; }
  void item(const char* name, const std::string& value) {
    text_ += std::string(name) + ": " + value + ", ";
  }
  std::string text_;
  std::size_t length_ = 0;
};

template <class... What>
void write_shown(const char* type, const What&... what) {
  ShownTypes types;
  show(types, what...);
  types.finish(type);
  ShownReader reader;
  show(reader, what...);
  out << "export const k" << type << "Length = " << reader.length() << ";\nexport const read"
      << type << " = (n: Float64Array, at = 0): " << type << " => (" << reader.text() << ");\n";
}

// ---- deeds ----

struct DeedFields {
  std::string text;
  void field(const char* key, const std::string& type, Need need) {
    text += std::string("; ") + key + (need == Need::kMay ? "?: " : ": ") + type;
  }
  void whole(const char* key, int, int, int) { field(key, "number", Need::kMust); }
  void number(const char* key, double, double, double, Need need) { field(key, "number", need); }
  void number(const char* key, std::optional<double>, double, double) {
    field(key, "number", Need::kMay);
  }
  void text_field(const char* key, Need need) { field(key, "string", need); }
  void texts(const char* key, const std::vector<std::string>&, Need need) {
    field(key, "readonly string[]", need);
  }
  template <class E>
  void word(const char* key, E, Need need) {
    field(key, kNames<E>.type, need);
  }
  template <class E>
  void word(const char* key, const std::optional<E>&) {
    field(key, kNames<E>.type, Need::kMay);
  }
  void part(const char* key, const std::optional<exam::Aspect>&) {
    field(key, "Aspect | 'all'", Need::kMay);
  }
  void vital(const char* key, const std::string&) { field(key, "VitalId", Need::kMust); }
};
struct DeedVisitor : DeedFields {
  void text(const char* key, const std::string&, Need need, std::size_t) { text_field(key, need); }
};

// Deeds that reach body or chestpiece; the rest are words.
template <class D>
constexpr bool kIsBodily =
    std::is_same_v<D, Place> || std::is_same_v<D, Lift> || std::is_same_v<D, TurnHead> ||
    std::is_same_v<D, Expose> || std::is_same_v<D, Cover> || std::is_same_v<D, Instruct> ||
    std::is_same_v<D, SetPosture> || std::is_same_v<D, Tap> || std::is_same_v<D, Treat> ||
    std::is_same_v<D, StopTreatment> || std::is_same_v<D, Listen>;

template <std::size_t... I>
void write_deeds(std::index_sequence<I...>) {
  out << "export type Deed =";
  const auto one = [](auto deed, std::size_t i) {
    DeedVisitor visitor;
    fields(visitor, deed);
    out << "\n  | { do: " << quote(kDeedNames[i]) << visitor.DeedFields::text << " }";
  };
  (one(std::variant_alternative_t<I, Deed>{}, I), ...);
  out << ";\nexport type LogEntry = { id: string; t: number } & Deed;\n"
      << "export const deedLabel: Record<Deed['do'], string> = {\n";
  for (std::size_t i = 0; i < kDeedNames.size(); ++i) {
    out << "  " << kDeedNames[i] << ": " << quote(kDeedLabels[i]) << ",\n";
  }
  out << "};\nexport const bodilyDeeds: ReadonlySet<Deed['do']> = new Set<Deed['do']>([";
  const auto name = [](bool is_bodily, std::size_t i) {
    if (is_bodily) out << quote(kDeedNames[i]) << ", ";
  };
  (name(kIsBodily<std::variant_alternative_t<I, Deed>>, I), ...);
  out << "]);\n// Of one's own chestpiece: nobody else hears them.\n"
      << "export const chestpieceDeeds: ReadonlySet<Deed['do']> = new Set<Deed['do']>([";
  (name(is_of_chestpiece(std::variant_alternative_t<I, Deed>{}), I), ...);
  out << "]);\n";
}

// ---- answers ----

template <class T>
std::string type_of() {
  if constexpr (std::is_same_v<T, std::string>) {
    return "string";
  } else if constexpr (std::is_same_v<T, bool>) {
    return "boolean";
  } else if constexpr (std::is_arithmetic_v<T>) {
    return "number";
  } else if constexpr (std::is_enum_v<T>) {
    return kNames<T>.type;
  } else {
    return std::string(T::kTypeName);
  }
}
struct AnswerFields {
  template <class T>
  void operator()(const char* name, const T&) const {
    out << "  " << name << ": " << type_of<T>() << ";\n";
  }
  template <class T>
  void operator()(const char* name, const std::optional<T>&) const {
    out << "  " << name << ": " << type_of<T>() << " | null;\n";
  }
  template <class T>
  void operator()(const char* name, const std::vector<T>&) const {
    out << "  " << name << ": " << type_of<T>() << "[];\n";
  }
};
template <class T>
void write_answer() {
  T value;
  const AnswerFields visitor;
  out << "export interface " << T::kTypeName << " {\n";
  describe(visitor, value);
  out << "}\n";
}

void write_all() {
  out << "// Written by the build (src/app/engine/typescript.cc) from the C++ that it tells again: "
         "do not edit.\n";
  write_list<exam::Side>();
  write_list<exam::Lobe>();
  write_list<exam::Aspect>();
  write_list<exam::BodyPart>();
  write_list<exam::Phase>();
  write_list<exam::Sound>();
  write_list<exam::Presence>();
  write_list<exam::Basis>();
  write_list<acoustics::Region>();
  write_list<acoustics::Head>();
  write_list<acoustics::Surroundings>();
  write_list<acoustics::Realness>();
  write_list<acoustics::Layer>();
  write_list<patient::Manoeuvre>();
  write_list<patient::Posture>();
  write_list<patient::Event>();
  write_list<patient::Sex>();
  write_list<Look>();
  write_list<Clothing>();
  write_list<StepKind>();
  write_labels("soundLabel", kSoundLabels);
  // What sounds in health too: no mark on a picture.
  out << "export const plainSounds: ReadonlySet<string> = new Set([";
  for (const auto& [sound, word] : kWords<exam::Sound>) {
    if (is_plain(sound)) out << quote(word) << ", ";
  }
  out << "]);\n";
  // Heart, hand, gut and recorder: what is heard beside the breath.
  out << "export const besideBreath: ReadonlySet<string> = new Set([";
  for (const auto& [sound, word] : kWords<exam::Sound>) {
    if (sound == exam::Sound::kHeart || sound >= exam::Sound::kFirstHeartSound) {
      out << quote(word) << ", ";
    }
  }
  out << "]);\n";
  write_labels("lobeLabel", kLobeLabels);
  out << "export const sideOfLobe: Record<Lobe, Exclude<Side, 'midline'>> = { ";
  for (const auto& [lobe, word] : kWords<exam::Lobe>) {
    out << word << ": " << quote(word_of(exam::side_of(lobe))) << ", ";
  }
  out << "};\nexport const settingFor = (ageYears: number): string => (ageYears < "
      << exam::kAdultFrom_years << " ? " << quote(exam::kChildSetting) << " : "
      << quote(exam::kAdultSetting) << ");\nexport const kRoundCodeSigns = " << kRoundCodeSigns
      << ";\n";
  write_labels("postureLabel", kPostureLabels);
  write_labels("bodyEventLabel", kEventLabels);
  write_labels("aspectLabel", kAspectLabels);
  write_labels("basisLabel", kBasisLabels);
  write_labels("bodyPartLabel", kBodyPartLabels);
  // Where on the body each sign is to be seen.
  out << "export const seenAt: readonly { finding_id: string; part: BodyPart }[] = [\n";
  for (const SeenAt& one : kSeenAt) {
    out << "  { finding_id: " << quote(one.finding_id) << ", part: " << quote(word_of(one.part))
        << " },\n";
  }
  out << "];\n";
  write_labels("roomLabel", kRoomLabels);
  write_labels("realnessLabel", kRealnessLabels);
  out << "export const layerGroups: readonly { words: string; layers: readonly Layer[] }[] = [\n";
  for (const LayerGroup& group : kLayerGroups) {
    out << "  { words: " << quote(group.words) << ", layers: [";
    for (std::size_t i = 0; i < group.layers.size(); ++i) {
      if (i > 0 && group.layers[i] == group.layers[i - 1]) continue;
      out << (i > 0 ? ", " : "") << quote(word_of(group.layers[i]));
    }
    out << "] },\n";
  }
  out << "];\n";
  out << "export const lookFor: Record<Basis, Look> = {\n";
  for (const auto& [basis, word] : kWords<exam::Basis>) {
    out << "  " << quote(word) << ": " << quote(word_of(look_for(basis))) << ",\n";
  }
  out << "};\n";
  out << "export const vitals = [";
  for (const VitalKind& one : kVitals) {
    out << "{ id: " << quote(one.id) << ", label: " << quote(one.label) << " }, ";
  }
  out << "] as const;\nexport type VitalId = (typeof vitals)[number]['id'];\n"
      << "export const askable: readonly { manoeuvre: Manoeuvre; label: string; seconds: number; "
         "key: string }[] = [\n";
  for (const Asked& one : kAsked) {
    out << "  { manoeuvre: " << quote(word_of(one.manoeuvre)) << ", label: " << quote(one.label)
        << ", seconds: " << one.seconds << ", key: " << quote(one.key) << " },\n";
  }
  out << "];\nexport const kStepsPerSecond = " << 1.0 / patient::PatientConfig{}.step_s << ";\n";
  // A page has few answers to judge; so it needs no statistics of its own.
  constexpr int kMostAnswers = 24;
  out << "export const kMostAnswers = " << kMostAnswers
      << ";\n// Wilson's 95 % interval of a share: [of how many][how many right].\n"
         "export const shareInterval: readonly (readonly (readonly [number, number])[])[] = [[]";
  for (int all = 1; all <= kMostAnswers; ++all) {
    out << ",\n  [";
    for (int right = 0; right <= all; ++right) {
      const auto share = phren::teaching::proportion(right, all).value();
      out << (right > 0 ? ", [" : "[") << share.low << ", " << share.high << "]";
    }
    out << "]";
  }
  out << "];\n";
  write_shown("Now", patient::Snapshot{}, patient::Monitor{});
  write_shown("HeardEvent", acoustics::TruthEvent{});
  write_deeds(std::make_index_sequence<std::variant_size_v<Deed>>{});
  write_answer<PlaceAnswer>();
  write_answer<StayAnswer>();
  write_answer<ReadingAnswer>();
  write_answer<LogAnswer>();
  write_answer<StepAnswer>();
  write_answer<FindingAnswer>();
  write_answer<InstrumentAnswer>();
  write_answer<CountedSound>();
  write_answer<PlaceHeard>();
  write_answer<SoundHeardAnswer>();
  write_answer<MarkAnswer>();
  write_answer<MissedAnswer>();
  write_answer<MonitorAnswer>();
  write_answer<DebriefAnswer>();
  out << "export interface Questions {\n";
  for (const Question& one : kQuestions) {
    out << "  " << one.ask << ": { needs: " << one.needs << "; answer: " << one.answer << " };\n";
  }
  out << "}\n";
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fputs("usage: phren_typescript FILE\n", stderr);
    return 2;
  }
  write_all();
  const std::filesystem::path file(argv[1]);
  std::filesystem::create_directories(file.parent_path());
  std::ifstream old(file, std::ios::binary);
  const std::string before{std::istreambuf_iterator<char>(old), {}};
  if (before == out.str()) return 0;
  const auto written = phren::write_file(file, out.str());
  if (!written) std::fprintf(stderr, "%s\n", written.error().message.c_str());
  return written ? 0 : 1;
}
