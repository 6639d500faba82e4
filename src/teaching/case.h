// A case: a prepared patient, as an instructor writes it down in a TOML file (data/cases/*.toml).
//
// Units:   in the names of the fields; severities 0 (none) .. 1 (worst).
// Errors:  each names file, line, field, value and allowed range. Nothing is guessed: an unknown
//          field, condition or finding is an error with the nearest known name.
// Format:  docs/case-format.md.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/instruments.h"
#include "acoustics/listening.h"
#include "base/result.h"
#include "bedside/setup.h"
#include "exam/types.h"
#include "patient/config.h"

namespace phren::teaching {

struct Case {
  std::string id;     // the name of the file
  std::string title;  // one line
  std::string story;  // what the crew is told and sees on arrival
  std::vector<std::string> teaching_points;
  std::string setting = "ems_adult";  // whose starting odds: ems_adult, ems_child, clinic
  patient::PatientSetup patient;      // no conditions: healthy
  bedside::Clothing clothing = bedside::Clothing::kBare;
  acoustics::Surroundings room = acoustics::Surroundings::kQuiet;
  std::vector<exam::Finding> told;  // what asking and looking bring to light
};

// The names a case may use.
struct CaseVocabulary {
  std::vector<std::string> condition_ids;
  std::vector<std::string> finding_ids;
  std::vector<std::string> treatment_ids{};
  // From data/conditions, data/treatments and data/findings.toml.
  static Result<CaseVocabulary> load(const std::filesystem::path& data_directory);
};

// `file_name` stands in errors; its stem becomes the id.
Result<Case> parse_case(std::string_view toml_text, std::string_view file_name,
                        const CaseVocabulary& vocabulary);
Result<Case> load_case(const std::filesystem::path& file, const CaseVocabulary& vocabulary);

// "asthma__tension_pneumothorax-right": a case with illnesses that are not there yet but can be brought in
// (patient::Patient::steer), each with its side where it needs one.
struct CaseWithPossible {
  std::string base_id;
  std::vector<patient::ConditionUse> possible;  // at severity 0
};
CaseWithPossible split_case_id(std::string_view id);
Case with_possible(Case base, const CaseWithPossible& parts);

// A case by the path of its file, by its id for one of data/cases, or a drawn one (draw/draw.h).
Result<Case> find_case(std::string_view path_or_id, const std::filesystem::path& data_directory);
// Every case file of a folder in the order of their names, each with its error if it has one.
struct ListedCase {
  std::filesystem::path file;
  Result<Case> loaded;
};
Result<std::vector<ListedCase>> list_cases(const std::filesystem::path& folder,
                                           const CaseVocabulary& vocabulary);

// What a bedside needs of it.
Result<bedside::Setup> setup_of(const Case& one, const patient::Conditions& conditions,
                                const patient::Treatments& treatments,
                                const acoustics::Instruments& instruments);

}  // namespace phren::teaching
