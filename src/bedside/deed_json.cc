#include "bedside/deed_json.h"

#include <algorithm>
#include <array>
#include <functional>
#include <utility>

#include "bedside/log_text.h"
#include "exam/names.h"

namespace phren::bedside {
namespace {

using Json = nlohmann::ordered_json;

template <class E>
using Entry = std::pair<E, std::string_view>;

constexpr std::array<Entry<Head>, 2> kHeads{
    {{Head::kDiaphragm, "diaphragm"}, {Head::kBell, "bell"}}};
constexpr std::array<Entry<Manoeuvre>, 7> kManoeuvres{
    {{Manoeuvre::kBreatheNormally, "breathe_normally"},
     {Manoeuvre::kBreatheDeeply, "breathe_deeply"},
     {Manoeuvre::kHoldBreath, "hold_breath"},
     {Manoeuvre::kCough, "cough"},
     {Manoeuvre::kSpeak, "speak"},
     {Manoeuvre::kSayVowel, "say_vowel"},
     {Manoeuvre::kForcedBreath, "forced_breath"}}};
constexpr std::array<Entry<Look>, 4> kLooks{{{Look::kLook, "look"},
                                             {Look::kFeel, "feel"},
                                             {Look::kPercuss, "percuss"},
                                             {Look::kAsk, "ask"}}};
constexpr std::array<Entry<patient::Posture>, 3> kPostures{
    {{patient::Posture::kSitting, "sitting"},
     {patient::Posture::kReclined, "reclined"},
     {patient::Posture::kLying, "lying"}}};
constexpr std::array<std::string_view, 7> kVitals{
    "respiratory_rate_per_min", "spo2_percent", "etco2_mmHg", "heart_rate_per_min", "systolic_mmHg",
    "diastolic_mmHg",           "temperature_C"};

template <class E, std::size_t N>
std::string_view word_of(const std::array<Entry<E>, N>& words, E value) {
  for (const auto& [key, word] : words) {
    if (key == value) return word;
  }
  return "unknown";
}

// Reads the fields of one line and keeps the first thing wrong with them.
class Fields {
 public:
  explicit Fields(const Json& json) : json_(json) {}
  const std::optional<Error>& error() const { return error_; }

  const Json* find(const char* key, bool required) {
    known_.emplace_back(key);
    const auto found = json_.find(key);
    if (found != json_.end()) return &*found;
    if (required) note(out_of_range(key, "missing", "given"));
    return nullptr;
  }
  double number(const char* key, double low, double high, std::optional<double> fallback = {}) {
    const Json* found = find(key, !fallback);
    if (found == nullptr) return fallback.value_or(0.0);
    if (!found->is_number() || !(*found >= low) || !(*found <= high)) {
      note(out_of_range(key, found->dump(),
                        "a number between " + Json(low).dump() + " and " + Json(high).dump()));
      return low;
    }
    return found->get<double>();
  }
  std::string text(const char* key, bool required, std::size_t longest = 64) {
    const Json* found = find(key, required);
    if (found == nullptr) return {};
    if (!found->is_string() || found->get<std::string>().size() > longest ||
        (required && found->get<std::string>().empty())) {
      note(out_of_range(key, found->dump(), "text of 1 to " + std::to_string(longest) + " bytes"));
      return {};
    }
    return found->get<std::string>();
  }
  std::vector<std::string> texts(const char* key, bool required) {
    std::vector<std::string> list;
    const Json* found = find(key, required);
    if (found == nullptr) return list;
    const auto is_name = [](const Json& j) {
      return j.is_string() && !j.get<std::string>().empty() && j.get<std::string>().size() <= 64;
    };
    if (!found->is_array() || found->size() > 50 ||
        !std::all_of(found->begin(), found->end(), is_name)) {
      note(out_of_range(key, found->dump(), "a list of at most 50 names"));
      return list;
    }
    for (const Json& name : *found) list.push_back(name.get<std::string>());
    return list;
  }
  template <class E, std::size_t N>
  E word(const char* key, const std::array<Entry<E>, N>& words, bool required) {
    const std::string name = text(key, required);
    if (name.empty()) return words[0].first;
    std::string allowed = "one of ";
    for (const auto& [value, word] : words) {
      if (word == name) return value;
      allowed += (allowed.size() > 7 ? ", " : "") + std::string(word);
    }
    note(out_of_range(key, "'" + name + "'", allowed));
    return words[0].first;
  }
  // A word that exam::parse_* reads; `fallback` when it is not there.
  template <class E, class Parse>
  E parsed(const char* key, Parse parse, std::optional<E> fallback) {
    const std::string name = text(key, !fallback);
    if (name.empty()) return fallback.value_or(E{});
    const auto value = parse(name);
    if (!value) note(at(key, value.error()));
    return value.value_or(E{});
  }
  void note(Error error) {
    if (!error_) error_ = std::move(error);
  }
  void nothing_else() {
    for (const auto& [key, value] : json_.items()) {
      if (key == "id" || key == "t" || key == "do") continue;
      if (std::find(known_.begin(), known_.end(), key) == known_.end()) {
        note({ErrorCode::kInvalidArgument,
              "field '" + key + "' is not known here." + did_you_mean(key, known_)});
      }
    }
  }

 private:
  const Json& json_;
  std::vector<std::string> known_;
  std::optional<Error> error_;
};

exam::TorsoPoint read_point(Fields& f) {
  exam::TorsoPoint point;
  point.aspect = f.parsed<exam::Aspect>("aspect", exam::parse_aspect, std::nullopt);
  point.u = f.number("u", -1.5, 1.5);
  point.v = f.number("v", -1.5, 1.5);
  return point;
}

Deed read_place(Fields& f) {
  Place place;
  place.point = read_point(f);
  place.pressure = f.number("pressure", 0.0, 1.0, 0.6);
  return place;
}

Deed read_expose(Fields& f) {
  const std::string part = f.text("part", false);
  if (part.empty() || part == "all") return Expose{};
  const auto aspect = exam::parse_aspect(part);
  if (!aspect) f.note(at("part", aspect.error()));
  return Expose{aspect.value_or(exam::Aspect::kFront)};
}

Deed read_measure(Fields& f) {
  Measure measure{f.text("vital", true)};
  if (f.find("value", false) != nullptr) measure.value = f.number("value", 0.0, 1000.0);
  if (std::find(kVitals.begin(), kVitals.end(), measure.vital) == kVitals.end()) {
    f.note(out_of_range("vital", "'" + measure.vital + "'",
                        "a vital sign with its unit, such as spo2_percent." +
                            did_you_mean(measure.vital, kVitals)));
  }
  return measure;
}

Deed read_report(Fields& f) {
  exam::Finding finding;
  finding.id = f.text("finding", true);
  finding.presence =
      f.parsed<exam::Presence>("presence", exam::parse_presence, exam::Presence::kPresent);
  finding.basis = f.parsed<exam::Basis>("basis", exam::parse_basis, exam::Basis::kHeard);
  finding.side = f.parsed<exam::Side>("side", exam::parse_side, exam::Side::kMidline);
  finding.site_ids = f.texts("sites", false);
  if (f.find("phase", false) != nullptr) {
    finding.phase = f.parsed<exam::Phase>("phase", exam::parse_phase, std::nullopt);
  }
  finding.confidence = f.number("confidence", 0.0, 1.0, 1.0);
  finding.note = f.text("note", false, 1000);
  return Report{finding};
}

using Reader = Deed (*)(Fields&);
const std::vector<std::pair<std::string_view, Reader>>& readers() {
  static const std::vector<std::pair<std::string_view, Reader>> all{
      {"place", read_place},
      {"lift", [](Fields&) -> Deed { return Lift{}; }},
      {"head", [](Fields& f) -> Deed { return TurnHead{f.word("head", kHeads, true)}; }},
      {"expose", read_expose},
      {"cover", [](Fields&) -> Deed { return Cover{}; }},
      {"instruct",
       [](Fields& f) -> Deed {
         return Instruct{f.word("manoeuvre", kManoeuvres, true),
                         f.number("seconds", 0.0, 120.0, 20.0)};
       }},
      {"posture", [](Fields& f) -> Deed { return SetPosture{f.word("posture", kPostures, true)}; }},
      {"examine",
       [](Fields& f) -> Deed {
         return Examine{f.word("how", kLooks, true), f.text("finding", true),
                        f.text("site", false)};
       }},
      {"tap", [](Fields& f) -> Deed { return Tap{read_point(f)}; }},
      {"measure", read_measure},
      {"treat",
       [](Fields& f) -> Deed {
         return Treat{f.text("treatment", true),
                      f.parsed<exam::Side>("side", exam::parse_side, exam::Side::kMidline)};
       }},
      {"stop", [](Fields& f) -> Deed { return StopTreatment{f.text("treatment", true)}; }},
      {"report", read_report},
      {"rank", [](Fields& f) -> Deed { return Rank{f.texts("conditions", true)}; }},
      {"say", [](Fields& f) -> Deed { return Say{f.text("text", true, 4000)}; }},
      {"end", [](Fields&) -> Deed { return End{}; }}};
  return all;
}

struct Writer {
  Json& json;
  void write(const exam::TorsoPoint& point) const {
    json["aspect"] = exam::to_string(point.aspect);
    json["u"] = point.u;
    json["v"] = point.v;
  }
  void operator()(const Place& d) const {
    write(d.point);
    json["pressure"] = d.pressure;
  }
  void operator()(const Tap& d) const { write(d.point); }
  void operator()(const Lift&) const {}
  void operator()(const TurnHead& d) const { json["head"] = word_of(kHeads, d.head); }
  void operator()(const Expose& d) const {
    json["part"] = d.aspect ? exam::to_string(*d.aspect) : std::string_view("all");
  }
  void operator()(const Cover&) const {}
  void operator()(const Instruct& d) const {
    json["manoeuvre"] = word_of(kManoeuvres, d.manoeuvre);
    json["seconds"] = d.seconds;
  }
  void operator()(const SetPosture& d) const { json["posture"] = word_of(kPostures, d.posture); }
  void operator()(const Examine& d) const {
    json["how"] = word_of(kLooks, d.how);
    json["finding"] = d.finding_id;
    if (!d.site_id.empty()) json["site"] = d.site_id;
  }
  void operator()(const Measure& d) const {
    json["vital"] = d.vital;
    if (d.value) json["value"] = *d.value;
  }
  void operator()(const Treat& d) const {
    json["treatment"] = d.treatment_id;
    if (d.side != exam::Side::kMidline) json["side"] = exam::to_string(d.side);
  }
  void operator()(const StopTreatment& d) const { json["treatment"] = d.treatment_id; }
  void operator()(const Report& d) const {
    const exam::Finding& f = d.finding;
    json["finding"] = f.id;
    json["presence"] = exam::to_string(f.presence);
    json["basis"] = exam::to_string(f.basis);
    if (f.side != exam::Side::kMidline) json["side"] = exam::to_string(f.side);
    if (!f.site_ids.empty()) json["sites"] = f.site_ids;
    if (f.phase) json["phase"] = exam::to_string(*f.phase);
    json["confidence"] = f.confidence;
    if (!f.note.empty()) json["note"] = f.note;
  }
  void operator()(const Rank& d) const { json["conditions"] = d.condition_ids; }
  void operator()(const Say& d) const { json["text"] = d.text; }
  void operator()(const End&) const {}
};

}  // namespace

std::string_view to_string(Head value) {
  return word_of(kHeads, value);
}
std::string_view to_string(Manoeuvre value) {
  return word_of(kManoeuvres, value);
}
std::string_view posture_word(patient::Posture value) {
  return word_of(kPostures, value);
}
std::string_view to_string(Look value) {
  return word_of(kLooks, value);
}
// The readers stand in the order of the variant's alternatives.
std::string_view name_of(const Deed& deed) {
  return readers()[deed.index()].first;
}

void write_deed(const Deed& deed, Json& json) {
  std::visit(Writer{json}, deed);
}

Result<Deed> read_deed(const Json& json) {
  const auto found = json.find("do");
  const std::string name =
      found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
  std::vector<std::string> names;
  for (const auto& [word, reader] : readers()) {
    if (word == name) {
      Fields fields(json);
      Deed deed = reader(fields);
      fields.nothing_else();
      if (fields.error()) return fail(at(name, *fields.error()));
      return deed;
    }
    names.emplace_back(word);
  }
  return fail(ErrorCode::kInvalidArgument,
              "do is " + (found == json.end() ? "missing" : found->dump()) +
                  "; it must be an action of docs/formats/encounter.md." +
                  did_you_mean(name, names));
}

}  // namespace phren::bedside
