// Conditions on findings as text in data files: lines of words. "x" found, "!x" looked for and not
// found, "spo2_percent<90" as measured. A line holds when all its words hold.
//
// Errors:  parse_when() names the word that is neither a finding nor a vital sign with a limit.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "reasoning/evidence.h"
#include "reasoning/findings.h"
#include "reasoning/observe.h"

namespace phren::reasoning {

enum class Truth { kFalse, kUnknown, kTrue };

struct Word {
  std::string text;
  std::size_t finding = 0;
  bool is_negated = false;
  std::optional<Cut> cut;  // else a finding
};
using Line = std::vector<Word>;

Result<Line> parse_line(const std::vector<std::string>& words, const FindingTable& table);
Truth evaluate(const Word& word, const Observations& known);
Truth evaluate(const Line& line, const Observations& known);
std::string in_words(const Line& line, const FindingTable& table);

}  // namespace phren::reasoning
