// All that is taught from, loaded once and shared: bodies, treatments, places, evidence, cases, checklists,
// statistics and what the drill asks.
//
// Errors:  load() names the file, line and field that it could not use; nothing is loaded by halves.
// Threads: does not change after it is loaded.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/instruments.h"
#include "exam/sites.h"
#include "patient/conditions.h"
#include "reasoning/knowledge.h"
#include "teaching/case.h"
#include "teaching/draw/draw.h"
#include "teaching/drill/skills.h"
#include "teaching/marking/checklist.h"
#include "teaching/own_cases.h"
#include "teaching/statistics/catalogue.h"

namespace phren::teaching {

// By which finding a drill skill can be asked about what it means; empty: the evidence carries no
// fair question.
struct Meaning {
  std::string weigh, threat;
};

struct Library {
  patient::Conditions conditions;
  patient::Treatments treatments;
  exam::SiteMap sites;
  acoustics::Instruments instruments;
  reasoning::Knowledge knowledge;  // with all findings
  DrawData drawing;
  CaseVocabulary case_words;
  std::vector<Case> cases;  // by name of the file
  std::vector<Checklist> checklists;
  StatisticCatalogue statistics;
  std::vector<Skill> skills;      // of the drill: sounds, then places
  std::vector<Meaning> meanings;  // of each skill

  std::shared_ptr<const OwnCases> own;  // always there; without a folder it holds none

  // `own_folder`: the instructor's own cases; empty: there are none.
  static Result<std::shared_ptr<const Library>> load(const std::filesystem::path& data,
                                                     const std::filesystem::path& own_folder = {});

  const Case* find(std::string_view id) const;  // null: there is no such prepared one
  // A prepared case, one of the own folder, or a drawn one (docs/formats/draw.md).
  Result<Case> get(std::string_view id) const;
  // The same, or the case in the file of that path.
  Result<Case> open_case(std::string_view path_or_id) const;
  const Skill* skill(std::string_view id) const;  // null: there is none
};

}  // namespace phren::teaching
