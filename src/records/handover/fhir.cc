#include "records/handover/fhir.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>

#include "exam/names.h"
#include "records/handover/xapi.h"

namespace phren::records {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kLoinc = "http://loinc.org";
constexpr const char* kSnomed = "http://snomed.info/sct";
constexpr const char* kUcum = "http://unitsofmeasure.org";

struct VitalCode {
  std::optional<double> exam::VitalSigns::* field;
  const char *code, *display, *unit, *ucum;
};
constexpr std::array<VitalCode, 7> kVitals{
    {{&exam::VitalSigns::respiratory_rate_per_min, "9279-1", "Respiratory rate", "breaths/min",
      "/min"},
     {&exam::VitalSigns::spo2_percent, "59408-5", "Oxygen saturation by pulse oximetry", "%", "%"},
     {&exam::VitalSigns::etco2_mmHg, "19889-5", "Carbon dioxide at end of breath", "mmHg",
      "mm[Hg]"},
     {&exam::VitalSigns::heart_rate_per_min, "8867-4", "Heart rate", "beats/min", "/min"},
     {&exam::VitalSigns::systolic_mmHg, "8480-6", "Systolic blood pressure", "mmHg", "mm[Hg]"},
     {&exam::VitalSigns::diastolic_mmHg, "8462-4", "Diastolic blood pressure", "mmHg", "mm[Hg]"},
     {&exam::VitalSigns::temperature_C, "8310-5", "Body temperature", "Cel", "Cel"}}};

struct SnomedCode {
  std::string_view finding, code, display;
};
constexpr std::array<SnomedCode, 8> kFindings{
    {{"absent_breath_sounds", "65503000", "Absent breath sounds"},
     {"diminished_breath_sounds", "58840004", "Decreased breath sounds"},
     {"normal_breath_sounds", "48348007", "Normal breath sounds"},
     {"crackles", "48409008", "Respiratory crackles"},
     {"rhonchi", "53541006", "Low-pitched rhonchi"},
     {"stridor", "70407001", "Stridor"},
     {"wheeze", "56018004", "Wheezing"},
     {"accessory_muscle_use", "248549001", "Labored breathing"}}};

Json coding(const char* system, std::string_view code, std::string_view display) {
  return {{"system", system}, {"code", code}, {"display", display}};
}

Json test_mark() {
  return {{"security", Json::array({coding("http://terminology.hl7.org/CodeSystem/v3-ActReason",
                                           "HTEST", "test health data")})}};
}

Json observation(const std::string& category, Json code, const std::string& timestamp,
                 const std::string& subject) {
  return {{"resourceType", "Observation"},
          {"meta", test_mark()},
          {"status", "final"},
          {"category",
           Json::array(
               {{{"coding",
                  Json::array({coding("http://terminology.hl7.org/CodeSystem/observation-category",
                                      category, category)})}}})},
          {"code", std::move(code)},
          {"subject", {{"reference", subject}}},
          {"effectiveDateTime", timestamp}};
}

Json finding_observation(const exam::Finding& f, const FhirOptions& o, const std::string& subject) {
  std::string words = f.id;
  std::replace(words.begin(), words.end(), '_', ' ');
  Json code{{"text", words}};
  if (o.with_snomed) {
    for (const SnomedCode& s : kFindings) {
      if (s.finding == f.id) code["coding"] = Json::array({coding(kSnomed, s.code, s.display)});
    }
  }
  Json json = observation("exam", std::move(code), o.timestamp, subject);
  json["valueBoolean"] = f.presence == exam::Presence::kPresent;
  if (f.presence == exam::Presence::kUnknown) {
    json.erase("valueBoolean");
    json["dataAbsentReason"] = {
        {"coding", Json::array({coding("http://terminology.hl7.org/CodeSystem/data-absent-reason",
                                       "unknown", "Unknown")})}};
  }
  if (f.side != exam::Side::kMidline) {
    const bool right = f.side == exam::Side::kRight;
    json["bodySite"] = {{"text", right ? "right lung" : "left lung"}};
    if (o.with_snomed) {
      json["bodySite"]["coding"] = Json::array(
          {coding(kSnomed, right ? "3341006" : "44029006", right ? "Right lung" : "Left lung")});
    }
  }
  std::string note = f.note;
  for (const std::string& site : f.site_ids) note += (note.empty() ? "site " : ", site ") + site;
  if (f.phase) note += (note.empty() ? "" : ", ") + std::string(exam::to_string(*f.phase));
  if (!note.empty()) json["note"] = Json::array({{{"text", note}}});
  json["method"] = {{"text", exam::to_string(f.basis)}};
  return json;
}

class Bundle {
 public:
  Bundle(const FhirOptions& options) : options_(options) {}
  std::string add(const std::string& part, Json resource) {
    const std::string url = "urn:uuid:" + uuid_of(options_.bundle_id + "/" + part);
    entries_.push_back({{"fullUrl", url}, {"resource", std::move(resource)}});
    return url;
  }
  Json json() const {
    return {{"resourceType", "Bundle"}, {"id", options_.bundle_id},        {"meta", test_mark()},
            {"type", "collection"},     {"timestamp", options_.timestamp}, {"entry", entries_}};
  }

 private:
  const FhirOptions& options_;
  Json entries_ = Json::array();
};

}  // namespace

Result<std::string> fhir_bundle(const exam::Examination& examination, const FhirOptions& o) {
  const auto ok = [](char c) {
    return std::string_view("-.").find(c) != std::string_view::npos || (c >= '0' && c <= '9') ||
           (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
  };
  if (o.bundle_id.empty() || o.bundle_id.size() > 64 ||
      !std::all_of(o.bundle_id.begin(), o.bundle_id.end(), ok)) {
    return fail(
        out_of_range("bundle_id", "'" + o.bundle_id + "'", "1 to 64 letters, digits, - or ."));
  }
  if (o.timestamp.size() < 20 || o.timestamp.back() != 'Z') {
    return fail(out_of_range("timestamp", "'" + o.timestamp + "'",
                             "ISO 8601 in UTC, such as 2026-11-25T08:00:00Z"));
  }
  Bundle bundle(o);
  Json patient{{"resourceType", "Patient"},
               {"meta", test_mark()},
               {"active", false},
               {"name", Json::array({{{"text", "Simulated patient, " + examination.case_id}}})}};
  if (examination.sex == "female" || examination.sex == "male") patient["gender"] = examination.sex;
  const std::string subject = bundle.add("patient", std::move(patient));
  Json members = Json::array();
  for (const VitalCode& v : kVitals) {
    const auto& value = examination.vital_signs.*v.field;
    if (!value) continue;
    Json json =
        observation("vital-signs", {{"coding", Json::array({coding(kLoinc, v.code, v.display)})}},
                    o.timestamp, subject);
    json["valueQuantity"] = {
        {"value", *value}, {"unit", v.unit}, {"system", kUcum}, {"code", v.ucum}};
    bundle.add(std::string("vital/") + v.code, std::move(json));
  }
  for (std::size_t i = 0; i < examination.findings.size(); ++i) {
    members.push_back(
        {{"reference", bundle.add("finding/" + std::to_string(i),
                                  finding_observation(examination.findings[i], o, subject))}});
  }
  Json chest = observation(
      "exam",
      {{"coding",
        Json::array({coding(kLoinc, "10207-9", "Physical findings of Thorax and Lungs")})}},
      o.timestamp, subject);
  chest["note"] = Json::array(
      {{{"text", "Training aid: a simulated patient. Not for diagnosing or treating anyone."}}});
  if (!members.empty()) chest["hasMember"] = members;
  bundle.add("chest", std::move(chest));
  return bundle.json().dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace phren::records
