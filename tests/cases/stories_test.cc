// The prepared patients of Skerrow Sound: every condition has one, and no story gives the answer away.
#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <set>

#include "base/files.h"
#include "bedside/words.h"
#include "teaching/library.h"
#include "teaching/marking/checklist.h"

namespace phren::teaching {
namespace {

const Library& library() {
  static const auto all = Library::load(data_directory()).value();
  return *all;
}

std::vector<std::string> ids_of(const Case& one) {
  std::vector<std::string> ids;
  for (const auto& use : one.patient.conditions) ids.push_back(use.id);
  if (ids.empty()) ids.push_back("healthy");
  return ids;
}

// Words that would say what it is, as people say it; signs and what happened may be told. Common usage.
const std::map<std::string, std::vector<std::string>>& synonyms() {
  static const std::map<std::string, std::vector<std::string>> all = {
      {"healthy", {"healthy", "nothing wrong", "no illness", "clear chest"}},
      {"asthma", {"asthma", "bronchospas"}},
      {"anaphylaxis", {"anaphyla", "allerg"}},
      {"copd_exacerbation", {"copd", "emphysema", "obstructive", "exacerbation", "flare"}},
      {"bronchiolitis", {"bronchiolitis", "rsv"}},
      {"croup", {"croup", "laryngotracheit"}},
      {"epiglottitis", {"epiglott", "supraglott"}},
      {"upper_airway_foreign_body", {"foreign body", "obstruct", "stuck"}},
      {"bronchial_foreign_body", {"foreign body", "aspirat", "inhaled", "bronchus"}},
      {"lobar_pneumonia", {"pneumonia", "chest infection", "consolidat"}},
      {"aspiration_pneumonia", {"pneumonia", "aspirat", "chest infection"}},
      {"bronchitis", {"bronchit"}},
      {"cardiogenic_oedema", {"heart failure", "oedema", "edema", "failing heart", "water on"}},
      {"pneumothorax", {"pneumothorax", "collapsed lung", "burst"}},
      {"tension_pneumothorax", {"pneumothorax", "tension", "collapsed lung"}},
      {"haemothorax", {"haemothorax", "hemothorax", "bleed"}},
      {"pleural_effusion", {"effusion", "fluid", "pleur"}},
      {"pulmonary_embolism", {"embol", "clot", "thromb"}},
      {"interstitial_fibrosis", {"fibros", "scarred", "interstitial"}},
      {"inhalation_burn", {"inhalation", "burn", "scorched"}},
      {"opioid_hypoventilation", {"opioid", "opiate", "morphine", "overdose", "naloxone"}},
      {"metabolic_acidosis", {"acid", "ketoacid", "diabet"}},
      {"anxiety_hyperventilation", {"anxi", "panic", "hyperventil", "fear", "nerves"}},
      {"carbon_monoxide", {"carbon monoxide", "poison", "fumes"}},
      {"cardiac_tamponade", {"tamponade", "pericard", "heart sac"}},
      {"cheyne_stokes", {"cheyne", "stokes", "periodic"}},
      {"drowning", {"drown", "submers"}},
      {"gastric_aspiration", {"aspirat", "stomach acid", "mendelson"}},
      {"infant_apnoea", {"apnoea", "apnea"}},
      {"main_bronchus_tube", {"bronchus", "endobronchial", "too deep", "one lung"}},
      {"mucus_plug", {"plug", "collapse", "atelecta"}},
      {"neuromuscular_weakness", {"neuromuscular", "guillain", "myasthen", "paraly"}},
      {"oesophageal_tube", {"oesophag", "esophag", "gullet", "misplaced"}},
      {"open_pneumothorax", {"pneumothorax", "sucking", "open chest"}},
      {"rib_fractures", {"fractur", "flail", "broken rib", "ribs broken", "contusion"}},
      {"septic_pneumonia", {"sepsis", "septic", "pneumonia", "blood poisoning"}},
      {"surgical_emphysema", {"emphysema", "air under the skin"}},
      {"whooping_cough", {"whoop", "pertussis"}},
  };
  return all;
}

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

TEST(PreparedPatients, EveryConditionHasOne) {
  std::set<std::string> had;
  for (const Case& one : library().cases) {
    for (const std::string& id : ids_of(one)) had.insert(id);
  }
  for (const auto& condition : library().conditions.all()) {
    EXPECT_TRUE(had.contains(condition.id)) << "no prepared patient has " << condition.id;
  }
  EXPECT_GE(library().cases.size(), 24u);
}

// A test knows words, not meanings; each story was read for the rest.
TEST(PreparedPatients, NoTitleOrStorySaysWhatItIs) {
  for (const Case& one : library().cases) {
    const std::string text = lower(one.title + " " + one.story);
    for (const std::string& id : ids_of(one)) {
      ASSERT_TRUE(synonyms().contains(id)) << "write the words that would give away " << id;
      for (const std::string& word : synonyms().at(id)) {
        EXPECT_EQ(text.find(word), text.npos) << one.id << " says '" << word << "'";
      }
      const auto condition = library().conditions.find(id);
      ASSERT_TRUE(condition);
      EXPECT_EQ(text.find(lower(condition->name)), text.npos) << one.id;
    }
  }
}

TEST(PreparedPatients, FromNewbornToNinetyAndSomeChangeWhileOneListens) {
  double youngest = 200.0, oldest = 0.0;
  int changing = 0;
  for (const Case& one : library().cases) {
    SCOPED_TRACE(one.id);
    youngest = std::min(youngest, one.patient.person.age_years);
    oldest = std::max(oldest, one.patient.person.age_years);
    EXPECT_GE(one.teaching_points.size(), 2u);
    EXPECT_FALSE(one.told.empty());
    EXPECT_GT(one.story.size(), 120u);
    EXPECT_EQ(one.setting == "ems_child", one.patient.person.age_years < 16.0);
    for (const auto& use : one.patient.conditions) changing += use.change_over_min > 0.0;
  }
  EXPECT_LT(youngest, 0.08);  // the first four weeks
  EXPECT_GE(oldest, 90.0);
  EXPECT_GE(changing, 5);
}

TEST(PreparedPatients, EachHasAStationOfItsOwn) {
  for (const Case& one : library().cases) {
    const Checklist* list = fitting(library().checklists, ids_of(one));
    ASSERT_NE(list, nullptr) << one.id;
    EXPECT_EQ(list->fits, ids_of(one)) << one.id;
  }
}

// What is told is neither said twice nor said both ways.
TEST(PreparedPatients, WhatIsToldAgrees) {
  for (const Case& one : library().cases) {
    std::map<std::string, exam::Presence> told;
    for (const exam::Finding& finding : one.told) {
      const auto [at, is_new] = told.emplace(finding.id, finding.presence);
      EXPECT_TRUE(is_new) << one.id << " tells " << finding.id << " twice";
      EXPECT_EQ(at->second, finding.presence) << one.id << " tells " << finding.id << " both ways";
    }
  }
}

}  // namespace
}  // namespace phren::teaching
