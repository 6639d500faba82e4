#include "reasoning/threats.h"

#include <algorithm>

#include "base/stable_sort.h"

namespace phren::reasoning {
namespace {

// The one unknown word of a line whose other words, at least one, hold.
const Word* open_word(const Line& line, const Observations& known) {
  const Word* open = nullptr;
  std::size_t num_unknown = 0;
  for (const Word& word : line) {
    const Truth truth = evaluate(word, known);
    if (truth == Truth::kFalse) return nullptr;
    if (truth == Truth::kUnknown) {
      open = &word;
      ++num_unknown;
    }
  }
  return num_unknown == 1 && line.size() > 1 ? open : nullptr;
}

std::string settle_word(const Word& word, const FindingTable& table) {
  return word.cut ? word.cut->vital : table[word.finding].id;
}

}  // namespace

std::vector<Threat> find_threats(const Knowledge& knowledge, const Observations& known) {
  std::vector<Threat> out;
  for (const ThreatRule& rule : knowledge.threats) {
    Threat threat = rule.threat;
    for (const Line& line : rule.when) {
      if (evaluate(line, known) == Truth::kTrue) {
        threat.grounds.push_back(in_words(line, knowledge.findings));
      } else if (const Word* word = open_word(line, known)) {
        const std::string id = settle_word(*word, knowledge.findings);
        if (std::find(threat.settle.begin(), threat.settle.end(), id) == threat.settle.end()) {
          threat.settle.push_back(id);
        }
      }
    }
    threat.is_named = !threat.grounds.empty();
    if (threat.is_named) threat.settle.clear();
    if (threat.is_named || !threat.settle.empty()) out.push_back(std::move(threat));
  }
  phren::stable_sort(out, [](const Threat& a, const Threat& b) {
    return a.is_named != b.is_named ? a.is_named : a.minutes < b.minutes;
  });
  return out;
}

}  // namespace phren::reasoning
