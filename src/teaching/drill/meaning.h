// What does this sound mean? Questions of the drill whose answers come from the weighing: what a
// finding speaks for most, and what must be thought of first because it could kill first.
//
// Errors:  kNotFound for an unknown finding; kUnsupported when the evidence cannot carry a fair
//          question (no condition stands out, or too few others).
// Source:  the likelihood ratios and threat rules of data/, each told with its source. How far the
//          right answer must stand above the others is ours (ENGINEERING).
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/random.h"
#include "base/result.h"
#include "reasoning/knowledge.h"

namespace phren::teaching {

struct MeaningChoice {
  std::string id, label;
};

struct MeaningTask {
  std::string story;                   // what else is known of the patient, in words; may be empty
  std::vector<MeaningChoice> choices;  // in random order
  std::string truth;                   // id of the right choice
  std::string explanation;             // figures or physiology, with sources
};

// Which condition does the finding, if present, speak for most? Odds rise for the right one at
// least twice as much as for any other that is offered.
Result<MeaningTask> weigh_task(const reasoning::Knowledge& knowledge, std::string_view finding_id,
                               Seed seed);

// The finding and one or two more: which threat comes first? None of the others is named by them.
Result<MeaningTask> threat_task(const reasoning::Knowledge& knowledge, std::string_view finding_id,
                                Seed seed);

}  // namespace phren::teaching
