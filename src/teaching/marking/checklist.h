// A marking checklist, as an examiner writes it: data/checklists/*.toml.
//
// Units:   in the names of the fields.
// Errors:  each names file, line, field and what is allowed.
// Format:  docs/formats/checklist.md.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/fields.h"
#include "base/result.h"
#include "exam/types.h"

namespace phren::teaching {

enum class RuleKind {
  kListenedAt,       // every site of `sites`, each for least_s
  kListenedAspects,  // `count` places on each of `aspects`, each for least_s
  kListenedPairs,    // at least `count` mirrored pairs
  kComparedSides,    // after a site came its mirror, at least `count` times
  kExposedFirst,     // no listening through clothing (where the case starts clothed)
  kDeepBreaths,      // asked for deep breaths before or during listening
  kReported,         // reported one of `findings` as present or absent, on one of `sides`
  kNotReported,      // did not report one of `findings` as present
  kNamedWhatIsThere,  // of the sounds that could be heard where the learner listened, `share` were named
  kNamedSoftSide,   // named each side where breath sounds were diminished or absent
  kNoWrongMarks,    // named no sound that could not be heard
  kMeasured,        // took all of `vitals`
  kMeasuredAgain,   // took all of `vitals` before the first of `treatments`, and again after it
  kExamined,        // looked, felt, percussed or asked for `findings`, at least `count`
  kPercussedPairs,  // tapped at least `count` places on both sides
  kTreated,         // gave one of `treatments`, on one of `sides`
  kReassessed,      // listened again, on one of `sides`, after one of `treatments` within within_s
  kNoHarm,          // gave none of `treatments` (on one of `sides`), chose none of `postures`
  kPositioned,      // chose one of `postures`
  kRanked,          // one of `conditions` among the first `count` of the ranking
  kHandedOver,      // said at least `count` words, with each of `mentions` among them
  kFinished,        // ended the encounter
  kExaminer,        // only a person can judge it: never by the log
};

// The patient's, or by what the patient has: the side of the illness, or the healthy one.
enum class ItemSide { kRight, kLeft, kMidline, kAffected, kOther };

struct ChecklistItem {
  std::string id;
  std::string text;  // as the candidate reads it
  RuleKind rule = RuleKind::kFinished;
  double points = 1.0;
  bool critical = false;  // missing it fails the station
  std::string why;        // reason shown with the mark; may be empty

  std::vector<std::string> sites;
  std::vector<std::string> aspects;
  std::vector<std::string> findings;
  exam::Presence presence = exam::Presence::kPresent;
  std::vector<ItemSide> sides;  // empty: any side will do
  std::vector<std::string> vitals;
  std::vector<std::string> treatments;
  std::vector<std::string> postures;
  std::vector<std::string> conditions;
  std::vector<std::string> mentions;  // each a word, or several with | between: one of them will do
  double least_s = 4.0;               // one breath of an adult at rest (ENGINEERING)
  double within_s = 0.0;              // 0: any time
  double share = 1.0;                 // 0..1
  std::size_t count = 1;

  bool operator==(const ChecklistItem&) const = default;
};

inline constexpr double kLongestLimit_s = 14400.0;

struct Checklist {
  std::string id = "checklist";  // name of the file
  std::string title;
  std::string status;             // whose word it is; shown with the mark
  double time_limit_s = 0;        // 0: none
  double pass_share = 0.0;        // of all points; 0: set later by standard setting
  std::vector<std::string> fits;  // conditions for which it is meant; empty: for any chest
  std::vector<ChecklistItem> items;

  bool operator==(const Checklist&) const = default;
};

// In a file as in JSON (base/json_fields.h); the id of a file is its name.
void describe(Fields& f, ChecklistItem& item);
void describe(Fields& f, Checklist& list);

// What an instructor who composes an item must fill in for a rule.
struct RuleShape {
  RuleKind kind;
  std::string_view name;
  std::string_view needs;   // a list that must not be empty, or ""
  std::string_view fields;  // that the rule reads, with a space between
  std::string_view
      words;  // what it asks for: "{treatments}" and the like stand for what was chosen
};
std::span<const RuleShape> rule_shapes();

std::string_view to_string(ItemSide side);  // "right", "affected"
Result<ItemSide> parse_item_side(std::string_view text);
// `affected` is kMidline where the illness has no side: then any side is the affected one, and none the other.
bool fits_side(const std::vector<ItemSide>& sides, exam::Side side, exam::Side affected);

// The first list that fits the illness, or the first that fits any chest; nullptr if there is neither.
const Checklist* fitting(std::span<const Checklist> lists,
                         const std::vector<std::string>& conditions);

Result<Checklist> parse_checklist(std::string_view toml_text, std::string_view file_name);
Result<Checklist> load_checklist(const std::filesystem::path& file);
std::string_view to_string(RuleKind rule);

}  // namespace phren::teaching
