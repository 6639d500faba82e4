// The weighing put to the test on simulated patients: what is made, and how it is judged.
//
//   weighing_study make OUT.jsonl PER_CONDITION [PART PARTS [FIRST_PATIENT]]   rendered, measured
//   weighing_study judge FOLDER EXAMINER IN.jsonl...   tables and pictures; 0, 1 ... other luck
//
// Limits:  the patients are Phren's own; this shows that the parts fit together, not that the
//          figures are right for people.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "exam/sites.h"
#include "exam/types.h"
#include "measurement/measure.h"
#include "patient/conditions.h"
#include "reasoning/knowledge.h"

namespace phren::bench {

struct StudyPatient {
  std::vector<std::string> condition_ids;  // the one it is about first, then what coexists
  std::vector<double> severities;
  exam::Examination record;  // everything there is to find; nothing missed yet
};

// Share of patients made with a second condition, where companions_of() offers any: each of them
// alike, so that all are seen; the judge weighs them by how common they are.
inline constexpr double kCompanionsMade = 0.3;
std::vector<std::string> companions_of(const std::string& condition_id, double age_years);

struct StudyTools {
  reasoning::Knowledge knowledge;
  patient::Conditions conditions;
  exam::SiteMap sites;
  measurement::Measurer measurer;
  static Result<StudyTools> load();
};

// The patient, rendered at fourteen sites, measured, looked at. Same index, same patient.
Result<StudyPatient> make_study_patient(const std::string& condition_id, std::uint64_t index,
                                        StudyTools& tools);

std::string to_line(const StudyPatient& patient);
Result<StudyPatient> from_line(const std::string& line, const std::string& where);

// What one examiner really gets: some things not looked at, some missed, some seen that are not
// there. `index` picks the examiner's luck.
exam::Examination with_misses(const StudyPatient& patient, std::uint64_t index,
                              const reasoning::Knowledge& knowledge);

int judge(const std::filesystem::path& folder, std::uint64_t examiner,
          const std::vector<std::string>& files);

}  // namespace phren::bench
