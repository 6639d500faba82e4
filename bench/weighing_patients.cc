// Patients of the weighing study: drawn, rendered, measured, and looked at with realistic misses.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "app/examine/examine.h"
#include "base/files.h"
#include "bedside/bedside.h"
#include "bench/weighing_study.h"
#include "exam/record.h"
#include "measurement/findings.h"
#include "patient/findings.h"

namespace phren::bench {
namespace {

using exam::Basis;
using exam::Presence;

constexpr const char* kSites[] = {"F5", "F6", "F9", "F10", "S5",  "S6", "P5",
                                  "P6", "P7", "P8", "P9",  "P10", "N1", "N2"};
constexpr double kSeconds = 8.0, kSampleRate_hz = 8000.0;

// How an examiner falls short of the body. All ENGINEERING: our guess at a busy crew.
constexpr double kLooksAtSigns = 0.8, kAsks = 0.6, kListensToVoice = 0.9;
constexpr double kTextbookHolds = 0.75;  // a story need not have every line of the textbook
constexpr double kBackground = 0.05;     // and may have lines of other stories
constexpr double kTakesCapnogram = 0.7, kTakesTemperature = 0.8;

constexpr double kOldestChild_years = 16.0;

// Share of children among the patients made for a condition; the rest adults. Where the condition's
// own ages leave only one of the two, that one.
double share_of_children(const patient::Condition& condition) {
  const std::string& id = condition.id;
  if (condition.most_age_years <= kOldestChild_years) return 1.0;
  if (condition.least_age_years >= kOldestChild_years) return 0.0;
  if (id == "bronchial_foreign_body") return 0.6;
  if (id == "epiglottitis" || id == "upper_airway_foreign_body" || id == "drowning") return 0.5;
  if (id == "asthma") return 0.4;
  if (id == "lobar_pneumonia" || id == "anaphylaxis" || id == "healthy") return 0.2;
  return 0.0;
}

double draw_age(bool is_child, const patient::Condition& condition,
                const reasoning::Knowledge& knowledge, RandomStream& random) {
  const double youngest = is_child ? std::min(0.2, condition.most_age_years / 10.0) : 17.0;
  const double low = std::max(youngest, condition.least_age_years);
  const double high = std::min(is_child ? 15.0 : 90.0, condition.most_age_years);
  const char* setting = is_child ? "ems_child" : "ems_adult";
  for (;;) {  // as often as the age factor of the condition says
    const double age = random.uniform(low, high);
    const double factor = knowledge.priors.of(setting, condition.id, age).age_odds_factor;
    if (random.chance(std::min(1.0, factor / 3.0))) return age;
  }
}

patient::Person draw_person(double age_years, RandomStream& random) {
  patient::Person p;
  p.age_years = age_years;
  p.sex = random.chance(0.5) ? patient::Sex::kFemale : patient::Sex::kMale;
  const bool is_grown = age_years >= 16.0;
  const double middle_cm = is_grown          ? (p.sex == patient::Sex::kMale ? 176.0 : 164.0)
                           : age_years < 1.0 ? 52.0 + 24.0 * age_years
                                             : 70.0 + 6.5 * age_years;
  p.height_cm = middle_cm * std::clamp(random.normal(1.0, 0.035), 0.92, 1.08);
  const double bmi = is_grown ? std::clamp(random.normal(26.0, 4.0), 19.0, 38.0)
                              : std::clamp(random.normal(16.5, 1.2), 14.0, 20.0);
  p.weight_kg = bmi * p.height_cm * p.height_cm / 1e4;
  p.muscle = random.uniform(0.1, 0.6);
  return p;
}

}  // namespace

std::vector<std::string> companions_of(const std::string& id, double age_years) {
  std::vector<std::string> choices;
  if (id == "healthy") return choices;
  const auto offer = [&](const char* other, bool fits) {
    if (fits && id != other) choices.emplace_back(other);
  };
  offer("asthma", age_years > 5.0);
  offer("bronchitis", age_years > 1.0);
  offer("copd_exacerbation", age_years >= 45.0);
  offer("cardiogenic_oedema", age_years >= 55.0);
  offer("pleural_effusion", age_years >= 45.0);
  offer("interstitial_fibrosis", age_years >= 55.0);
  return choices;
}

namespace {

std::string draw_companion(const std::string& id, double age_years, RandomStream& random) {
  const auto choices = companions_of(id, age_years);
  if (choices.empty()) return "";
  return choices[random.below(static_cast<std::uint32_t>(choices.size()))];
}

Result<exam::Examination> examine_at_sites(const teaching::Case& prepared, Seed seed,
                                           StudyTools& tools) {
  auto body = app::patient_of(prepared.patient, seed, data_directory());
  if (!body) return fail(body.error());
  exam::Examination record;
  record.seed = seed.value;
  record.age_years = body->person().age_years;
  record.sex = body->person().sex == patient::Sex::kFemale ? "female" : "male";
  record.setting = prepared.setting;
  record.vital_signs = patient::vital_signs_of(body->monitor());
  const auto seen = bedside::findings_at_bedside(*body, prepared.told);
  std::vector<measurement::SiteMeasurement> heard;
  for (const char* id : kSites) {
    const exam::Site site = tools.sites.find(id).value();
    const Seed here{RandomStream(seed, std::string("site ") + id).bits()};
    const app::RecordingOptions how{kSeconds, kSampleRate_hz, acoustics::Head::kDiaphragm,
                                    acoustics::Realness::kClean, std::nullopt};
    const auto recording = app::record_at(*body, site.at, prepared, how, here);
    if (!recording) return fail(recording.error());
    auto measured = tools.measurer.measure(recording->audio);
    if (!measured) return fail(measured.error());
    heard.push_back({site, std::move(*measured)});
    body->advance_to(body->time_s() + kSeconds);
  }
  record.findings = measurement::findings_of(heard);
  record.findings.insert(record.findings.end(), seen.begin(), seen.end());
  return record;
}

double chance_looked_at(const exam::Finding& finding) {
  switch (finding.basis) {
    case Basis::kMeasured:
    case Basis::kMonitored:
      return 1.0;
    case Basis::kAsked:
      return kAsks;
    case Basis::kHeard:
      return kListensToVoice;
    default:
      return kLooksAtSigns;
  }
}

// One look at one finding: unknown when not looked at; else the sign followed with the chance that
// agreement between listeners gives, or a guess at the background rate.
void look_at(exam::Finding& f, const reasoning::Knowledge& knowledge, RandomStream& random) {
  const bool is_looked_at = random.chance(chance_looked_at(f));
  const bool holds = random.chance(kTextbookHolds), strays = random.chance(kBackground);
  const double guess = random.uniform(), follow = random.uniform();
  if (f.basis == Basis::kMeasured || f.basis == Basis::kMonitored) return;
  const auto index = knowledge.findings.index_of(f.id);
  const double r = index ? std::sqrt(std::max(0.0, knowledge.agreement.of(*index).kappa)) : 1.0;
  bool is_there = f.presence == Presence::kPresent;
  if (f.basis == Basis::kAsked) is_there = is_there ? holds : strays;
  const bool is_reported = follow < r ? is_there : guess < 2.0 * kBackground;
  f.presence = !is_looked_at ? Presence::kUnknown
               : is_reported ? Presence::kPresent
                             : Presence::kAbsent;
  if (!is_reported) f.side = exam::Side::kMidline;
}

}  // namespace

Result<StudyTools> StudyTools::load() {
  const auto data = data_directory();
  auto knowledge = reasoning::Knowledge::load(data);
  if (!knowledge) return fail(knowledge.error());
  auto conditions = patient::Conditions::load(data / "conditions");
  if (!conditions) return fail(conditions.error());
  auto sites = exam::SiteMap::load(data / "sites.toml");
  if (!sites) return fail(sites.error());
  auto measurer = measurement::Measurer::load();
  if (!measurer) return fail(measurer.error());
  return StudyTools{std::move(*knowledge), std::move(*conditions), std::move(*sites),
                    std::move(*measurer)};
}

Result<StudyPatient> make_study_patient(const std::string& condition_id, std::uint64_t index,
                                        StudyTools& tools) {
  const auto& conditions = tools.conditions;
  const auto condition = conditions.find(condition_id);
  if (!condition) return fail(condition.error());
  RandomStream random(Seed{index}, "study " + condition_id);
  const bool is_child = random.chance(share_of_children(*condition));
  const double age = draw_age(is_child, *condition, tools.knowledge, random);
  teaching::Case prepared;
  prepared.id = condition_id;
  prepared.setting = is_child ? "ems_child" : "ems_adult";
  prepared.patient.person = draw_person(age, random);
  StudyPatient out;
  const auto add = [&](const std::string& id, double severity) {
    out.condition_ids.push_back(id);
    out.severities.push_back(severity);
    patient::ConditionUse use;
    use.id = id;
    use.severity = severity;
    if (conditions.find(id).value().needs_side) {
      use.side = random.chance(0.5) ? exam::Side::kRight : exam::Side::kLeft;
    }
    prepared.patient.conditions.push_back(use);
  };
  add(condition_id, random.uniform(0.3, 1.0));
  const bool has_companion = condition_id != "healthy" && random.chance(kCompanionsMade);
  const std::string other = has_companion ? draw_companion(condition_id, age, random) : "";
  if (!other.empty()) add(other, random.uniform(0.25, 0.5));
  auto record = examine_at_sites(prepared, Seed{random.bits() >> 12}, tools);
  if (!record) return fail(at(condition_id + " " + std::to_string(index), record.error()));
  out.record = std::move(*record);
  out.record.case_id = condition_id + "-" + std::to_string(index);
  return out;
}

std::string to_line(const StudyPatient& patient) {
  return nlohmann::json{{"conditions", patient.condition_ids},
                        {"severities", patient.severities},
                        {"record", nlohmann::json::parse(exam::to_json(patient.record))}}
             .dump() +
         "\n";
}

Result<StudyPatient> from_line(const std::string& line, const std::string& where) {
  const auto j = nlohmann::json::parse(line, nullptr, false);
  if (j.is_discarded() || !j.contains("record")) {
    return fail(ErrorCode::kMalformed, where + ": not a line of the study");
  }
  StudyPatient out;
  out.condition_ids = j["conditions"].get<std::vector<std::string>>();
  out.severities = j["severities"].get<std::vector<double>>();
  auto record = exam::examination_from_json(j["record"].dump(), where);
  if (!record) return fail(record.error());
  out.record = std::move(*record);
  return out;
}

exam::Examination with_misses(const StudyPatient& patient, std::uint64_t index,
                              const reasoning::Knowledge& knowledge) {
  exam::Examination out = patient.record;
  RandomStream random(Seed{patient.record.seed + index}, "examiner");
  for (exam::Finding& finding : out.findings) look_at(finding, knowledge, random);
  if (!random.chance(kTakesCapnogram)) {
    out.vital_signs.etco2_mmHg.reset();
    std::erase_if(out.findings,
                  [](const exam::Finding& f) { return f.id == "obstructive_capnogram"; });
  }
  if (!random.chance(kTakesTemperature)) out.vital_signs.temperature_C.reset();
  return out;
}

}  // namespace phren::bench
