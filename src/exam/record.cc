#include "exam/record.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <utility>

#include "base/json_text.h"
#include "exam/names.h"

namespace phren::exam {
namespace {

using Json = nlohmann::ordered_json;

struct VitalField {
  const char* key;
  std::optional<double> VitalSigns::* member;
  double low, high;  // what a monitor or a hand could ever show: ENGINEERING, only to catch slips
};
constexpr VitalField kVitals[] = {
    {"respiratory_rate_per_min", &VitalSigns::respiratory_rate_per_min, 0, 200},
    {"spo2_percent", &VitalSigns::spo2_percent, 0, 100},
    {"etco2_mmHg", &VitalSigns::etco2_mmHg, 0, 200},
    {"heart_rate_per_min", &VitalSigns::heart_rate_per_min, 0, 400},
    {"systolic_mmHg", &VitalSigns::systolic_mmHg, 0, 400},
    {"diastolic_mmHg", &VitalSigns::diastolic_mmHg, 0, 300},
    {"temperature_C", &VitalSigns::temperature_C, 10, 46},
};
constexpr double kMaxAge_years = 125.0;
constexpr std::string_view kSexes[] = {"", "female", "male"};
constexpr std::string_view kSettings[] = {"", "ems_adult", "ems_child", "clinic"};

Json json_of(const VitalSigns& signs) {
  Json out = Json::object();
  for (const VitalField& field : kVitals) {
    if (const auto& value = signs.*field.member) out[field.key] = *value;
  }
  return out;
}

Json json_of(const SiteRecord& site) {
  Json out;
  out["site_id"] = site.site_id;
  out["audio_file"] = site.audio_file;
  out["level_db"] = std::isinf(site.level_db) ? Json() : Json(site.level_db);
  out["sounds"] = Json::array();
  for (const Sound sound : site.sounds) out["sounds"].push_back(to_string(sound));
  out["notes"] = site.notes;
  return out;
}

Json json_of(const Finding& finding) {
  Json out;
  out["id"] = finding.id;
  out["presence"] = to_string(finding.presence);
  out["basis"] = to_string(finding.basis);
  out["side"] = to_string(finding.side);
  out["site_ids"] = finding.site_ids;
  if (finding.phase) out["phase"] = to_string(*finding.phase);
  out["confidence"] = finding.confidence;
  out["note"] = finding.note;
  return out;
}

// The words of a list as "one of a, b or empty".
std::string listed(std::span<const std::string_view> words) {
  std::string out = "one of";
  for (const auto word : words) out += word.empty() ? " (empty)," : " " + std::string(word) + ",";
  out.pop_back();
  return out;
}

// Reads values out of a parsed document and keeps the first error; after an error every further
// read gives a default, so the caller checks once at the end.
class Reader {
 public:
  explicit Reader(std::string_view file_name) : file_name_(file_name) {}

  const std::optional<Error>& error() const { return error_; }

  void note(ErrorCode code, const std::string& path, const std::string& message) {
    if (!error_) error_ = Error{code, file_name_ + ": " + (path.empty() ? "/" : path) + message};
  }
  void wrong(const std::string& path, const Json& value, std::string_view allowed) {
    std::string seen = value.dump(-1, ' ', false, Json::error_handler_t::replace);
    if (seen.size() > 60) seen = seen.substr(0, 57) + "...";
    note(ErrorCode::kInvalidArgument, path, " is " + seen + "; it must be " + std::string(allowed));
  }

  // True if `node` is an object all of whose keys are in `known`.
  bool object(const Json& node, const std::string& path,
              const std::vector<std::string_view>& known) {
    if (!node.is_object()) {
      wrong(path, node, "an object");
      return false;
    }
    for (const auto& [key, value] : node.items()) {
      if (std::find(known.begin(), known.end(), key) != known.end()) continue;
      std::string hint = did_you_mean(key, known);
      if (hint.empty()) {
        for (const auto name : known)
          hint += (hint.empty() ? " Known: " : ", ") + std::string(name);
      }
      note(ErrorCode::kInvalidArgument, path + "/" + key,
           " is not a field of an examination." + hint);
    }
    return true;
  }
  const Json* member(const Json& node, const std::string& path, const char* key, bool required) {
    const auto found = node.find(key);
    if (found != node.end()) return &*found;
    if (required) note(ErrorCode::kMalformed, path + "/" + key, " is missing; it is required");
    return nullptr;
  }

  void number(const Json& node, const std::string& path, const char* key, double low, double high,
              double& target) {
    const Json* value = member(node, path, key, false);
    if (value == nullptr) return;
    const double seen = value->is_number() ? value->get<double>() : NAN;
    if (seen >= low && seen <= high) {
      target = seen;
    } else {
      wrong(path + "/" + key, *value,
            "a number between " + Json(low).dump() + " and " + Json(high).dump());
    }
  }
  void text(const Json& node, const std::string& path, const char* key, bool required,
            std::string& target) {
    const Json* value = member(node, path, key, required);
    if (value == nullptr) return;
    if (!value->is_string() || (required && value->get_ref<const std::string&>().empty())) {
      return wrong(path + "/" + key, *value, required ? "a text that is not empty" : "a text");
    }
    target = value->get<std::string>();
  }
  void one_of(const Json& node, const std::string& path, const char* key,
              std::span<const std::string_view> allowed, std::string& target) {
    std::string seen = target;
    text(node, path, key, false, seen);
    if (std::find(allowed.begin(), allowed.end(), seen) == allowed.end()) {
      return wrong(path + "/" + key, Json(seen), listed(allowed));
    }
    target = seen;
  }
  void texts(const Json& node, const std::string& path, const char* key,
             std::vector<std::string>& target) {
    const std::string here = path + "/" + key;
    each(node, path, key, [&](const Json& item, const std::string& at_item) {
      if (!item.is_string()) return wrong(at_item, item, "a text");
      target.push_back(item.get<std::string>());
    });
  }
  template <class E, class Parse>
  void word(const Json& value, const std::string& path, Parse parse, E& target) {
    if (!value.is_string()) return wrong(path, value, "a text");
    const auto parsed = parse(value.get_ref<const std::string&>());
    if (parsed) {
      target = *parsed;
    } else {  // "sound is 'x'; it must be ...": the pointer already names the field
      const std::string& why = parsed.error().message;
      note(parsed.error().code, path, why.substr(std::min(why.find(" is "), why.size())));
    }
  }
  template <class Visit>
  void each(const Json& node, const std::string& path, const char* key, Visit visit) {
    const Json* list = member(node, path, key, false);
    if (list == nullptr) return;
    const std::string here = path + "/" + key;
    if (!list->is_array()) return wrong(here, *list, "a list");
    for (std::size_t i = 0; i < list->size() && !error_; ++i) {
      visit((*list)[i], here + "/" + std::to_string(i));
    }
  }

 private:
  std::string file_name_;
  std::optional<Error> error_;
};

void read_vitals(Reader& reader, const Json& root, VitalSigns& signs) {
  const Json* node = reader.member(root, "", "vital_signs", false);
  if (node == nullptr) return;
  std::vector<std::string_view> known;
  for (const VitalField& field : kVitals) known.emplace_back(field.key);
  if (!reader.object(*node, "/vital_signs", known)) return;
  for (const VitalField& field : kVitals) {
    if (!node->contains(field.key)) continue;
    double value = 0.0;
    reader.number(*node, "/vital_signs", field.key, field.low, field.high, value);
    signs.*field.member = value;
  }
}

SiteRecord read_site(Reader& reader, const Json& node, const std::string& path) {
  SiteRecord site;
  if (!reader.object(node, path, {"site_id", "audio_file", "level_db", "sounds", "notes"})) {
    return site;
  }
  reader.text(node, path, "site_id", true, site.site_id);
  reader.text(node, path, "audio_file", false, site.audio_file);
  if (const auto level = node.find("level_db"); level != node.end() && level->is_null()) {
    site.level_db = -std::numeric_limits<double>::infinity();
  } else {
    reader.number(node, path, "level_db", -400.0, 100.0, site.level_db);
  }
  reader.each(node, path, "sounds", [&](const Json& item, const std::string& here) {
    Sound sound{};
    reader.word(item, here, parse_sound, sound);
    site.sounds.push_back(sound);
  });
  reader.texts(node, path, "notes", site.notes);
  return site;
}

Finding read_finding(Reader& reader, const Json& node, const std::string& path) {
  Finding finding;
  if (!reader.object(
          node, path,
          {"id", "presence", "basis", "side", "site_ids", "phase", "confidence", "note"})) {
    return finding;
  }
  reader.text(node, path, "id", true, finding.id);
  if (const Json* value = reader.member(node, path, "presence", true)) {
    reader.word(*value, path + "/presence", parse_presence, finding.presence);
  }
  if (const Json* value = reader.member(node, path, "basis", false)) {
    reader.word(*value, path + "/basis", parse_basis, finding.basis);
  }
  if (const Json* value = reader.member(node, path, "side", false)) {
    reader.word(*value, path + "/side", parse_side, finding.side);
  }
  reader.texts(node, path, "site_ids", finding.site_ids);
  if (const Json* value = reader.member(node, path, "phase", false)) {
    Phase phase{};
    reader.word(*value, path + "/phase", parse_phase, phase);
    finding.phase = phase;
  }
  reader.number(node, path, "confidence", 0.0, 1.0, finding.confidence);
  reader.text(node, path, "note", false, finding.note);
  return finding;
}

void read_version(Reader& reader, const Json& root, Examination& exam) {
  const Json* version = reader.member(root, "", "schema_version", true);
  if (version == nullptr) return;
  if (!version->is_number() || *version != kExaminationSchemaVersion) {
    reader.note(
        ErrorCode::kUnsupported, "/schema_version",
        " is " + version->dump() + "; it must be " + std::to_string(kExaminationSchemaVersion));
  }
  exam.schema_version = kExaminationSchemaVersion;
}

void read_header(Reader& reader, const Json& root, Examination& exam) {
  read_version(reader, root, exam);
  reader.text(root, "", "case_id", false, exam.case_id);
  if (const Json* seed = reader.member(root, "", "seed", false)) {
    if (seed->is_number_unsigned()) {
      exam.seed = seed->get<std::uint64_t>();
    } else if (const double real = seed->is_number_float() ? seed->get<double>() : -1.0;
               real >= 0.0 && real <= 9007199254740992.0 && real == std::floor(real)) {
      exam.seed = static_cast<std::uint64_t>(real);  // JSON knows no difference between 7 and 7.0
    } else {
      reader.wrong("/seed", *seed, "a whole number from 0 to 18446744073709551615");
    }
  }
  reader.number(root, "", "age_years", 0.0, kMaxAge_years, exam.age_years);
  reader.one_of(root, "", "sex", kSexes, exam.sex);
  reader.one_of(root, "", "setting", kSettings, exam.setting);
}

// Line and column of a byte offset, both from 1.
std::string line_and_column(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte > 0 ? byte - 1 : 0, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const std::size_t start = before.rfind('\n');
  const std::size_t column = before.size() - (start == before.npos ? 0 : start + 1) + 1;
  return std::to_string(line) + ":" + std::to_string(column);
}

}  // namespace

std::string to_json(const Examination& exam) {
  Json out;
  out["schema_version"] = exam.schema_version;
  out["case_id"] = exam.case_id;
  out["seed"] = exam.seed;
  out["age_years"] = exam.age_years;
  out["sex"] = exam.sex;
  out["setting"] = exam.setting;
  out["vital_signs"] = json_of(exam.vital_signs);
  out["sites"] = Json::array();
  for (const SiteRecord& site : exam.sites) out["sites"].push_back(json_of(site));
  out["findings"] = Json::array();
  for (const Finding& finding : exam.findings) out["findings"].push_back(json_of(finding));
  return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Result<Examination> examination_from_json(std::string_view text, std::string_view file_name) {
  if (is_deeper_json(text)) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": is nested more than " +
                                           std::to_string(kDeepestJson) +
                                           " deep; no examination record is");
  }
  Json root;
  try {
    root = Json::parse(text);
  } catch (const Json::exception& error) {
    const auto* parse = dynamic_cast<const Json::parse_error*>(&error);
    const std::string where = parse == nullptr ? "" : ":" + line_and_column(text, parse->byte);
    return fail(ErrorCode::kMalformed, std::string(file_name) + where +
                                           ": is not JSON text; an examination record in "
                                           "JSON is needed (docs/examination.schema.json)");
  }
  Reader reader(file_name);
  Examination exam;
  if (reader.object(root, "",
                    {"schema_version", "case_id", "seed", "age_years", "sex", "setting",
                     "vital_signs", "sites", "findings"})) {
    read_header(reader, root, exam);
    read_vitals(reader, root, exam.vital_signs);
    reader.each(root, "", "sites", [&](const Json& node, const std::string& path) {
      exam.sites.push_back(read_site(reader, node, path));
    });
    reader.each(root, "", "findings", [&](const Json& node, const std::string& path) {
      exam.findings.push_back(read_finding(reader, node, path));
    });
  }
  if (reader.error()) return fail(*reader.error());
  return exam;
}

}  // namespace phren::exam
