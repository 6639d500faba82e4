// Compares what a learner says was heard with what could be heard where the learner listened.
//
// Shapes:  one verdict for each of the learner's marks, in their order; then what was missed.
// Errors:  none. A mark that listening cannot settle, or about a place that was not listened to, is kNotJudged.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bedside/heard.h"

namespace phren::bedside {

// Finding ids (data/findings.toml) that name a sound exactly, and those that name its broad family only.
struct SoundNames {
  std::vector<std::string> exact, family;
};
SoundNames finding_names(exam::Sound sound);
// Whether listening settles a finding: a sound, or how loud the breath is.
bool is_heard_finding(std::string_view finding_id);
// Whether it says that breath sounds are soft or gone.
bool is_softness_finding(std::string_view finding_id);

enum class MarkVerdict { kRight, kNearly, kWrong, kNotJudged };
std::string_view to_string(MarkVerdict value);  // "right", "nearly", "wrong", "not judged"

struct JudgedMark {
  MarkVerdict verdict = MarkVerdict::kNotJudged;
  std::string reason;  // one sentence
};
// `places`: where the learner listened, after compare_sides(). The mark's presence kUnknown is kNotJudged.
JudgedMark judge_mark(const exam::Finding& mark, std::span<const HeardAt> places);

struct MissedFinding {
  std::string finding_id;
  exam::Side side = exam::Side::kMidline;
  std::vector<std::string> site_ids;
  std::string words;  // "wheeze breathing out, clear"
};
// What could be heard and no mark names, not even nearly.
std::vector<MissedFinding> missed_findings(std::span<const exam::Finding> marks,
                                           std::span<const HeardAt> places);

}  // namespace phren::bedside
