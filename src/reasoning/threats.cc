#include "reasoning/threats.h"

#include <algorithm>

#include "base/stable_sort.h"

namespace phren::reasoning {
namespace {

// Something that is there; a person's age, or the lack of a sign, is no ground for worry.
bool is_ground(const Word& word) {
  return !word.is_negated && !(word.cut && word.cut->vital == kAgeWord);
}

// The one unknown word of a line whose other words hold, one of them at least a ground.
const Word* open_word(const Line& line, const Observations& known) {
  const Word* open = nullptr;
  std::size_t num_unknown = 0, num_grounds = 0;
  for (const Word& word : line) {
    const Truth truth = evaluate(word, known);
    if (truth == Truth::kFalse) return nullptr;
    if (truth == Truth::kUnknown) {
      open = &word;
      ++num_unknown;
    } else if (is_ground(word)) {
      ++num_grounds;
    }
  }
  return num_unknown == 1 && num_grounds > 0 ? open : nullptr;
}

void add_open(const Word& word, const FindingTable& table, Threat& threat) {
  const std::string id = word.cut ? word.cut->vital : table[word.finding].id;
  if (std::find(threat.settle.begin(), threat.settle.end(), id) != threat.settle.end()) return;
  threat.settle.push_back(id);
  threat.settle_in_words.push_back(in_words({word}, table));
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
        add_open(*word, knowledge.findings, threat);
      }
    }
    threat.is_named = !threat.grounds.empty();
    if (threat.is_named) {
      threat.settle.clear();
      threat.settle_in_words.clear();
    }
    if (threat.is_named || !threat.settle.empty()) out.push_back(std::move(threat));
  }
  phren::stable_sort(out, [](const Threat& a, const Threat& b) {
    return a.is_named != b.is_named ? a.is_named : a.minutes < b.minutes;
  });
  return out;
}

std::string standing_in_words(const Threat& threat) {
  const auto says = [&](const char* word) { return threat.status.find(word) != std::string::npos; };
  std::string words = says("ENGINEERING") ? "rule is our choice" : "";
  if (says("MEMORY")) words += (words.empty() ? "" : "; ") + std::string("figures from memory");
  return words;
}

}  // namespace phren::reasoning
