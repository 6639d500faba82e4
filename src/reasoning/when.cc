#include "reasoning/when.h"

#include <algorithm>

namespace phren::reasoning {

using exam::Presence;

Result<Line> parse_line(const std::vector<std::string>& words, const FindingTable& table) {
  Line line;
  for (const auto& text : words) {
    Word word;
    word.text = text;
    if (text.find_first_of("<>") != std::string::npos) {
      word.cut = TRY(parse_cut(text));
    } else {
      word.is_negated = !text.empty() && text.front() == '!';
      word.finding = TRY(table.find(word.is_negated ? text.substr(1) : text));
    }
    line.push_back(std::move(word));
  }
  if (line.empty()) return fail(ErrorCode::kMalformed, "a line of `when` needs at least one word");
  return line;
}

Truth evaluate(const Word& word, const Observations& known) {
  if (word.cut) {
    const auto value = word.cut->vital == kAgeWord ? std::optional(known.age_years)
                                                   : vital_value(known.vitals, word.cut->vital);
    if (!value) return Truth::kUnknown;
    return holds(*value, word.cut->comparison, word.cut->limit) ? Truth::kTrue : Truth::kFalse;
  }
  const Presence presence = known.by_finding[word.finding].presence;
  if (presence == Presence::kUnknown) return Truth::kUnknown;
  return (presence == Presence::kPresent) != word.is_negated ? Truth::kTrue : Truth::kFalse;
}

Truth evaluate(const Line& line, const Observations& known) {
  Truth all = Truth::kTrue;
  for (const Word& word : line) all = std::min(all, evaluate(word, known));
  return all;
}

std::string in_words(const Line& line, const FindingTable& table) {
  std::string text;
  for (const Word& word : line) {
    if (!text.empty()) text += " + ";
    if (word.cut) {
      text += word.text;
    } else {
      text += (word.is_negated ? "no " : "") + table[word.finding].label;
    }
  }
  return text;
}

}  // namespace phren::reasoning
