// For each condition the list that fits it: whoever does the job well passes it, whoever does it badly does not.
#include <gtest/gtest.h>

#include <cstdio>
#include <map>
#include <set>

#include "base/files.h"
#include "bedside/script.h"
#include "bedside/verdict.h"
#include "exam/names.h"
#include "teaching/library.h"
#include "teaching/marking/affected.h"
#include "teaching/marking/checklist.h"
#include "teaching/marking/mark.h"

namespace phren::teaching {
namespace {

using namespace bedside;
using namespace bedside::testing;

const std::vector<Checklist>& lists() {
  static const std::vector<Checklist> all = [] {
    std::vector<Checklist> out;
    for (const auto& entry : std::filesystem::directory_iterator(data_directory() / "checklists"))
      out.push_back(load_checklist(entry.path()).value());
    return out;
  }();
  return all;
}

// What a good and a bad learner do about each condition, written without looking at the lists: common practice.
struct Practice {
  std::vector<std::string>
      treatments;  // the right ones, in order; "!" before one that goes to the affected side
  std::vector<std::string> questions;  // asked, looked or felt for
  std::string harm;                    // what a bad learner does; on the healthy side if it has one
  std::vector<std::string> thoughts;   // what else could kill, after the condition itself
  std::string handover;
  double age_years = 45.0;
  double severity = 0.7;
};
const std::map<std::string, Practice>& practice() {
  static const std::map<std::string, Practice> all = {
      {"healthy",
       {{},
        {"cough", "dyspnoea"},
        "needle_decompression",
        {},
        "the chest is clear and breathing is normal on both sides today"}},
      {"asthma",
       {{"inhaled_bronchodilator", "oxygen"},
        {"history_asthma", "allergen_exposure"},
        "needle_decompression",
        {"anaphylaxis"},
        "asthma attack with wheeze on both sides, bronchodilator given"}},
      {"anaphylaxis",
       {{"intramuscular_epinephrine", "oxygen"},
        {"urticaria", "angioedema", "allergen_exposure"},
        "needle_decompression",
        {"asthma"},
        "anaphylaxis after a sting, epinephrine into the thigh, better now"}},
      {"copd_exacerbation",
       {{"inhaled_bronchodilator", "oxygen"},
        {"history_copd", "history_smoking"},
        "needle_decompression",
        {"pneumothorax", "pulmonary_embolism"},
        "flare of known COPD for three days, bronchodilator given and checked",
        68}},
      {"bronchiolitis",
       {{"suction", "oxygen"},
        {"retractions", "nasal_flaring", "runny_nose"},
        "needle_decompression",
        {"bronchial_foreign_body"},
        "infant with bronchiolitis, nose cleared, oxygen on, feeding poorly",
        0.6}},
      {"croup",
       {{"calming", "nebulised_epinephrine", "systemic_steroid"},
        {"retractions", "drooling", "barking_cough"},
        "lying",
        {"epiglottitis"},
        "croup with stridor at rest, nebulised epinephrine given, calmer now",
        2}},
      {"epiglottitis",
       {{"oxygen", "calming"},
        {"drooling", "muffled_voice", "tripod_position"},
        "suction",
        {"croup"},
        "swollen throat, epiglottitis likely, sitting up, nothing put in mouth",
        6}},
      {"upper_airway_foreign_body",
       {{"foreign_body_manoeuvre"},
        {"choking_episode"},
        "needle_decompression",
        {"anaphylaxis"},
        "choked on meat at table, manoeuvre done, air moves again now"}},
      {"bronchial_foreign_body",
       {{"oxygen"},
        {"choking_episode", "sudden_onset"},
        "needle_decompression",
        {"pneumothorax"},
        "quiet SIDE side since choking on a nut, foreign body likely",
        4}},
      {"inhalation_burn",
       {{"oxygen", "nebulised_epinephrine"},
        {"facial_burns", "soot_in_airway", "hoarse_voice", "smoke_exposure"},
        "needle_decompression",
        {"upper_airway_foreign_body"},
        "out of smoke with a burn of the face and soot in mouth"}},
      {"cardiogenic_oedema",
       {{"cpap", "nitrate"},
        {"raised_jugular_veins", "leg_oedema", "orthopnoea", "history_heart_failure"},
        "fluid",
        {"copd_exacerbation"},
        "failing heart with water in both lungs, CPAP on, nitrate given",
        74}},
      {"lobar_pneumonia",
       {{"oxygen"},
        {"fever_history", "pleuritic_chest_pain", "cough"},
        "needle_decompression",
        {"pulmonary_embolism"},
        "fever and crackles on the SIDE side, pneumonia likely, oxygen on"}},
      {"aspiration_pneumonia",
       {{"suction", "oxygen"},
        {"cough", "altered_mental_state"},
        "needle_decompression",
        {"lobar_pneumonia"},
        "aspirated after vomiting, throat cleared, oxygen on, crackles low down",
        79}},
      {"pleural_effusion",
       {{"oxygen"},
        {"dyspnoea", "cancer"},
        "needle_decompression",
        {"haemothorax"},
        "dull and quiet SIDE base, fluid round the lung, oxygen on",
        66}},
      {"haemothorax",
       {{"oxygen", "fluid"},
        {"chest_trauma"},
        "needle_decompression",
        {"tension_pneumothorax"},
        "dull quiet SIDE side after a blow, blood in the chest likely"}},
      {"pneumothorax",
       {{"oxygen"},
        {"tracheal_deviation", "asymmetric_chest_rise", "sudden_onset"},
        "needle_decompression",
        {"tension_pneumothorax"},
        "quiet resonant SIDE side, simple pneumothorax, no tension so far",
        24}},
      {"tension_pneumothorax",
       {{"!needle_decompression", "oxygen"},
        {"tracheal_deviation", "raised_jugular_veins", "asymmetric_chest_rise"},
        "needle_decompression",
        {"pneumothorax"},
        "tension pneumothorax on the SIDE decompressed by needle, better since then",
        30}},
      {"pulmonary_embolism",
       {{"oxygen"},
        {"unilateral_leg_swelling", "immobilisation_or_surgery", "calf_pain"},
        "nitrate",
        {"pneumothorax"},
        "clear chest with low oxygen after a flight, clot in the lung likely",
        58}},
      {"metabolic_acidosis",
       {{"fluid"},
        {"dyspnoea"},
        "assisted_ventilation",
        {"pulmonary_embolism"},
        "deep fast breathing with a clear chest, acid blood likely, fluid given",
        26}},
      {"opioid_hypoventilation",
       {{"assisted_ventilation", "opioid_reversal"},
        {"altered_mental_state", "opioid_use"},
        "needle_decompression",
        {"aspiration_pneumonia"},
        "opioid overdose, breathing by bag, then reversal, waking up now",
        34}},
      {"interstitial_fibrosis",
       {{"oxygen"},
        {"dyspnoea_on_exertion", "cough"},
        "needle_decompression",
        {"cardiogenic_oedema"},
        "fine crackles at both bases for years, scarred lungs, oxygen on",
        72}},
      {"bronchitis",
       {{},
        {"cough", "fever_history"},
        "needle_decompression",
        {"lobar_pneumonia"},
        "bronchitis with a rattling cough, no low oxygen, going home likely"}},
      {"anxiety_hyperventilation",
       {{"calming"},
        {"dyspnoea", "chest_pain"},
        "needle_decompression",
        {"pulmonary_embolism"},
        "breathing too much from fear, tingling, lungs clear, calmer now",
        24}},
      {"carbon_monoxide",
       {{"oxygen"},
        {"smoke_exposure", "syncope"},
        "needle_decompression",
        {"inhalation_burn"},
        "carbon monoxide from an engine, oxygen on from the start"}},
      {"cardiac_tamponade",
       {{"fluid"},
        {"raised_jugular_veins", "chest_trauma", "chest_pain"},
        "nitrate",
        {"tension_pneumothorax"},
        "clear lungs, full neck veins, low pressure, tamponade likely"}},
      {"cheyne_stokes",
       {{"oxygen"},
        {"history_heart_failure", "orthopnoea"},
        "fluid",
        {"cardiogenic_oedema"},
        "breathing in waves with pauses in a failing heart, oxygen on",
        76}},
      {"drowning",
       {{"oxygen"},
        {"dyspnoea", "cough"},
        "needle_decompression",
        {"aspiration_pneumonia"},
        "pulled out of the water coughing, drowning, oxygen on, crackles"}},
      {"gastric_aspiration",
       {{"suction", "oxygen"},
        {"cough", "dyspnoea"},
        "needle_decompression",
        {"aspiration_pneumonia"},
        "aspirated vomit, throat cleared, oxygen on, crackles on the right"}},
      {"infant_apnoea",
       {{"assisted_ventilation"},
        {"runny_nose"},
        "needle_decompression",
        {"bronchiolitis"},
        "young infant with pauses, apnoea with a cold, breathed by bag",
        0.2}},
      {"main_bronchus_tube",
       {{"tube_withdrawal"},
        {"tracheal_deviation"},
        "needle_decompression",
        {"tension_pneumothorax"},
        "tube was too deep, SIDE side quiet, drawn back, both sides now"}},
      {"mucus_plug",
       {{"oxygen"},
        {"purulent_sputum", "sudden_onset"},
        "needle_decompression",
        {"pneumothorax"},
        "SIDE side silent after rattling, mucus plug likely, oxygen on"}},
      {"neuromuscular_weakness",
       {{"assisted_ventilation"},
        {"dyspnoea_on_exertion", "dyspnoea"},
        "needle_decompression",
        {"opioid_hypoventilation"},
        "weak muscles with small breaths, supported by bag, no opioid"}},
      {"oesophageal_tube",
       {{"tube_withdrawal", "assisted_ventilation"},
        {"cyanosis"},
        "needle_decompression",
        {"main_bronchus_tube"},
        "tube was in the oesophagus, taken out, bag and mask works"}},
      {"open_pneumothorax",
       {{"!chest_seal", "oxygen"},
        {"chest_trauma"},
        "needle_decompression",
        {"tension_pneumothorax"},
        "open wound on the SIDE sealed, watching for tension, oxygen on",
        30}},
      {"rib_fractures",
       {{"oxygen"},
        {"chest_wall_tenderness", "asymmetric_chest_rise", "chest_trauma", "pleuritic_chest_pain"},
        "needle_decompression",
        {"pneumothorax"},
        "broken ribs on the SIDE with a bruised lung, oxygen on"}},
      {"septic_pneumonia",
       {{"oxygen", "fluid"},
        {"fever_history", "chills", "cough"},
        "needle_decompression",
        {"lobar_pneumonia"},
        "sepsis from pneumonia of both lungs, oxygen and fluid running",
        71}},
      {"surgical_emphysema",
       {{"oxygen"},
        {"subcutaneous_emphysema", "chest_wall_tenderness", "chest_trauma"},
        "cpap",
        {"pneumothorax"},
        "air under the skin on the SIDE after a blow, no pressure given"}},
      {"whooping_cough",
       {{"oxygen", "calming"},
        {"cough", "runny_nose"},
        "needle_decompression",
        {"infant_apnoea"},
        "bouts of coughing with a whoop, calm, oxygen ready, watched",
        3}},
  };
  return all;
}

patient::Person person_of(double age_years) {
  if (age_years < 1.0) return {age_years, patient::Sex::kMale, 68, 8, 0.3};
  if (age_years < 8.0)
    return {age_years, patient::Sex::kFemale, 76 + 7 * age_years, 8 + 2.5 * age_years, 0.3};
  return {age_years, patient::Sex::kMale, 178, 78, 0.4};
}

patient::PatientSetup patient_of(const std::string& condition, const Practice& known) {
  patient::PatientSetup patient;
  patient.person = person_of(known.age_years);
  if (condition != "healthy") patient.conditions.push_back({condition, known.severity});
  return patient;
}

exam::Side other(exam::Side side) {
  return side == exam::Side::kRight ? exam::Side::kLeft : exam::Side::kRight;
}

// Everything that a careful learner does, but for the words about what was heard.
Script careful(const std::string& condition, const Practice& known, exam::Side affected) {
  Script s;
  s.at(1, Expose{}).at(2, Instruct{Manoeuvre::kDeep, 60});
  double t = 3;
  for (const char* vital : {"respiratory_rate_per_min", "spo2_percent", "etco2_mmHg",
                            "heart_rate_per_min", "systolic_mmHg"})
    s.at(t += 0.5, Measure{vital});
  for (const char* site : {"N2", "F5", "F6", "F9", "F10", "S3", "S4", "P5", "P6", "P9", "P10"})
    s.listen(t += 7, site);
  const bool comes_in_waves = condition == "cheyne_stokes" || condition == "infant_apnoea";
  for (const char* site : {"P9", "F5"}) {
    if (!comes_in_waves) continue;
    s.listen(t += 7, site);
    s.at(t += 31, Lift{});
  }
  s.at(t += 7, Lift{});
  for (const char* site : {"F5", "F6", "P9", "P10"})
    s.at(t += 0.5, Tap{world().sites.find(site)->at});
  for (const std::string& question : known.questions)
    s.at(t += 0.5, Examine{Look::kAsk, question, ""});
  for (const std::string& treatment : known.treatments) {
    const bool is_sided = treatment.front() == '!';
    s.at(t += 1, Treat{is_sided ? treatment.substr(1) : treatment,
                       is_sided ? affected : exam::Side::kMidline});
  }
  s.at(t += 1, SetPosture{patient::Posture::kSitting});
  for (const char* site : {"F5", "F6", "P9", "P10"}) s.listen(t += 7, site);
  s.at(t += 7, Lift{});
  for (const char* vital : {"respiratory_rate_per_min", "spo2_percent", "etco2_mmHg",
                            "heart_rate_per_min", "systolic_mmHg"})
    s.at(t += 0.5, Measure{vital});
  std::vector<std::string> ranking = {condition};
  ranking.insert(ranking.end(), known.thoughts.begin(), known.thoughts.end());
  s.at(t += 1, Rank{ranking});
  std::string words = known.handover;
  if (const auto at = words.find("SIDE"); at != std::string::npos)
    words.replace(at, 4, std::string(exam::to_string(affected)));
  return s.at(t += 1, Say{words});
}

MarkSheet marked(const EncounterLog& log, const patient::PatientSetup& patient,
                 const Checklist& list, exam::Side affected, Performance* out = nullptr) {
  const Setup setup = prepare(patient, {Clothing::kShirt, acoustics::Surroundings::kQuiet}, {},
                              world().conditions, world().treatments)
                          .value();
  ReplayOptions options;
  options.sample_rate_hz = 4096.0;
  const Performance p = replay(log, setup, world().sites, options).value();
  if (out != nullptr) *out = p;
  return mark(p, list, world().sites, {0.0, affected});
}

// The same learner again, who now says what could be heard: what missed_findings lists, or that all is normal.
MarkSheet marked_well(const std::string& condition, const Practice& known, const Checklist& list,
                      const patient::PatientSetup& setup, exam::Side affected) {
  Script s = careful(condition, known, affected);
  Performance heard;
  marked(s.log(), setup, list, affected, &heard);
  std::vector<HeardAt> places;
  for (const Stay& stay : heard.stays) places.push_back(stay.found);
  double t = heard.end_s;
  const auto missed = missed_findings({}, places);
  for (const MissedFinding& one : missed) {
    exam::Finding f;
    f.id = one.finding_id;
    f.side = one.side;
    f.presence = exam::Presence::kPresent;
    s.at(t += 0.2, Report{f});
  }
  if (missed.empty()) s.at(t += 0.2, report("normal_breath_sounds"));
  s.at(t += 0.5, End{});
  return marked(s.log(), setup, list, affected);
}

MarkSheet marked_badly(const Practice& known, const Checklist& list,
                       const patient::PatientSetup& setup, exam::Side affected) {
  Script s;
  s.listen(1, "F5").at(3, Lift{});
  if (known.harm == "lying") {
    s.at(4, SetPosture{patient::Posture::kLying});
  } else {
    s.at(4, Treat{known.harm, other(affected)});
  }
  s.at(5, report("pleural_friction_rub")).at(6, End{});
  return marked(s.log(), setup, list, affected);
}

void show(const MarkSheet& sheet) {
  for (const ItemMark& m : sheet.items) {
    if (m.verdict == Verdict::kMet) continue;
    std::printf("    %-16s %-10s %.1f/%.1f %s\n", m.item_id.c_str(),
                std::string(to_string(m.verdict)).c_str(), m.points, m.max_points,
                m.reason.c_str());
  }
}

TEST(FittingChecklists, EveryConditionHasOneAndEveryOneHasACriticalItem) {
  std::set<std::string> ids;
  for (const patient::Condition& one : world().conditions.all()) {
    const Checklist* list = fitting(lists(), {one.id});
    ASSERT_NE(list, nullptr);
    EXPECT_EQ(list->fits, std::vector<std::string>{one.id}) << "no checklist fits " << one.id;
    EXPECT_FALSE(list->status.empty());
    EXPECT_TRUE(std::any_of(list->items.begin(), list->items.end(), [](const auto& i) {
      return i.critical;
    })) << list->id;
    EXPECT_TRUE(ids.insert(list->id).second) << list->id << " fits two conditions";
  }
  const Checklist* any = fitting(lists(), {});
  ASSERT_NE(any, nullptr);
  EXPECT_EQ(any->id, "chest_examination");
}

TEST(FittingChecklistsSlow, AGoodLogPassesAndABadOneFailsCritically) {
  for (const Checklist& list : lists()) {
    for (const std::string& condition : list.fits) {
      ASSERT_TRUE(practice().contains(condition))
          << "write what a good learner does for " << condition;
      const Practice& known = practice().at(condition);
      const patient::PatientSetup setup = patient_of(condition, known);
      const exam::Side affected = affected_side(setup, world().conditions);
      const MarkSheet good = marked_well(condition, known, list, setup, affected);
      const MarkSheet bad = marked_badly(known, list, setup, affected);
      std::printf("%-28s good %.1f of %.1f, bad %.1f of %.1f\n", condition.c_str(), good.points,
                  good.max_points, bad.points, bad.max_points);
      show(good);
      EXPECT_TRUE(good.passed) << condition;
      EXPECT_GE(good.points, 0.95 * good.max_points) << condition;
      EXPECT_FALSE(bad.passed) << condition;
      EXPECT_FALSE(bad.critical_missed.empty()) << condition;
      EXPECT_LT(bad.points, 0.4 * bad.max_points) << condition;
    }
  }
}

// The same with the prepared patients, each at its own station.
TEST(FittingChecklistsSoak, EachPreparedPatientsStationTellsAGoodLogFromABadOne) {
  for (const Case& one : Library::load(data_directory()).value()->cases) {
    const std::string condition =
        one.patient.conditions.empty() ? "healthy" : one.patient.conditions.front().id;
    const Practice& known = practice().at(condition);
    const Checklist& list = *fitting(lists(), {condition});
    const exam::Side affected = affected_side(one.patient, world().conditions);
    const MarkSheet good = marked_well(condition, known, list, one.patient, affected);
    const MarkSheet bad = marked_badly(known, list, one.patient, affected);
    std::printf("%-28s good %.1f of %.1f, bad %.1f of %.1f\n", one.id.c_str(), good.points,
                good.max_points, bad.points, bad.max_points);
    show(good);
    EXPECT_TRUE(good.passed) << one.id;
    EXPECT_FALSE(bad.passed) << one.id;
    EXPECT_FALSE(bad.critical_missed.empty()) << one.id;
  }
}

// The station of the brief: the right side recognised and decompressed passes those items, the wrong side fails
// critically, and who does not listen again loses that item and no other.
TEST(FittingChecklistsSlow, TensionIsJudgedBySideAndByListeningAgain) {
  const Practice& known = practice().at("tension_pneumothorax");
  patient::PatientSetup setup = patient_of("tension_pneumothorax", known);
  const Checklist& list = *fitting(lists(), {"tension_pneumothorax"});
  const auto verdict = [](const MarkSheet& sheet, const std::string& id) {
    for (const ItemMark& one : sheet.items)
      if (one.item_id == id) return one.verdict;
    ADD_FAILURE() << id;
    return Verdict::kNotJudged;
  };
  for (const exam::Side side : {exam::Side::kRight, exam::Side::kLeft}) {
    setup.conditions.front().side = side;
    ASSERT_EQ(affected_side(setup, world().conditions), side);
    const MarkSheet good = marked_well("tension_pneumothorax", known, list, setup, side);
    for (const char* id : {"soft_side", "decompresses", "listens_again", "no_wrong_side"})
      EXPECT_EQ(verdict(good, id), Verdict::kMet) << id;
    // The same deeds by one who takes the other side for the sick one.
    const MarkSheet wrong =
        marked(careful("tension_pneumothorax", known, other(side)).at(200, End{}).log(), setup,
               list, side);
    EXPECT_EQ(verdict(wrong, "decompresses"), Verdict::kMissed);
    EXPECT_EQ(verdict(wrong, "no_wrong_side"), Verdict::kMissed);
    EXPECT_FALSE(wrong.passed);
  }
  Script deaf = careful("tension_pneumothorax", known, exam::Side::kRight);
  EncounterLog log = deaf.at(200, End{}).log();
  setup.conditions.front().side = exam::Side::kRight;
  bool is_treated = false;
  std::erase_if(log.actions, [&](const EncounterAction& action) {
    is_treated = is_treated || std::holds_alternative<Treat>(action.deed);
    return is_treated && std::holds_alternative<Place>(action.deed);
  });
  const MarkSheet sheet = marked(log, setup, list, exam::Side::kRight);
  EXPECT_EQ(verdict(sheet, "listens_again"), Verdict::kMissed);
  EXPECT_EQ(verdict(sheet, "decompresses"), Verdict::kMet);
}

}  // namespace
}  // namespace phren::teaching
