// A marking checklist, as an examiner writes it: data/checklists/*.toml.
//
// Units:   in the names of the fields.
// Errors:  each names file, line, field and what is allowed.
// Format:  docs/formats/checklist.md.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/fields.h"
#include "base/result.h"
#include "exam/types.h"

namespace phren::teaching {

enum class RuleKind {
  kListenedAt,        // every site of `sites`, each for least_s
  kListenedPairs,     // at least `count` mirrored pairs
  kComparedSides,     // after a site came its mirror, at least `count` times
  kExposedFirst,      // no listening through clothing (where the case starts clothed)
  kDeepBreaths,       // asked for deep breaths before or during listening
  kReported,          // reported `finding` as present or absent, on `side`
  kNotReported,       // did not report `finding` as present
  kNamedWhatIsThere,  // of the sounds that could be heard where he listened, `share` were reported
  kMeasured,          // took all of `vitals`
  kExamined,          // looked, felt, percussed or asked for `findings`, at least `count`
  kTreated,           // gave one of `treatments`
  kReassessed,        // listened again after one of `treatments` within within_s
  kNoHarm,            // gave none of `treatments`
  kPositioned,        // chose one of `postures`
  kRanked,            // one of `conditions` among the first `count` of the ranking
  kFinished,          // ended the encounter
  kExaminer,          // only a person can judge it: never by the log
};

struct ChecklistItem {
  std::string id;
  std::string text;  // as the candidate reads it
  RuleKind rule = RuleKind::kFinished;
  double points = 1.0;
  bool critical = false;  // missing it fails the station
  std::string why;        // reason shown with the mark; may be empty

  std::vector<std::string> sites;
  std::vector<std::string> findings;  // for kReported exactly one
  exam::Presence presence = exam::Presence::kPresent;
  std::vector<exam::Side> sides;  // empty: any side will do
  std::vector<std::string> vitals;
  std::vector<std::string> treatments;
  std::vector<std::string> postures;
  std::vector<std::string> conditions;
  double least_s = 4.0;   // one breath of an adult at rest (ENGINEERING)
  double within_s = 0.0;  // 0: any time
  double share = 1.0;     // 0..1
  std::size_t count = 1;

  bool operator==(const ChecklistItem&) const = default;
};

inline constexpr double kLongestLimit_s = 14400.0;

struct Checklist {
  std::string id = "checklist";  // name of the file
  std::string title;
  std::string status;       // whose word it is; shown with the mark
  double time_limit_s = 0;  // 0: none
  double pass_share = 0.0;  // of all points; 0: set later by standard setting
  std::vector<ChecklistItem> items;

  bool operator==(const Checklist&) const = default;
};

// In a file as in JSON (base/json_fields.h); the id of a file is its name.
void describe(Fields& f, ChecklistItem& item);
void describe(Fields& f, Checklist& list);

Result<Checklist> parse_checklist(std::string_view toml_text, std::string_view file_name);
Result<Checklist> load_checklist(const std::filesystem::path& file);
std::string_view to_string(RuleKind rule);

}  // namespace phren::teaching
