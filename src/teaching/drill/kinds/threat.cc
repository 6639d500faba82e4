// What must be thought of first, because it could kill first?
#include "teaching/drill/kinds/meaning_kind.h"

namespace phren::teaching {
namespace {

class ThreatKind : public MeaningKind {
 public:
  std::string_view id() const override { return "threat"; }
  std::string finding(const Meaning& meaning) const override { return meaning.threat; }
  Result<MeaningTask> task(const reasoning::Knowledge& knowledge, const std::string& finding,
                           Seed seed) const override {
    return threat_task(knowledge, finding, seed);
  }
  std::vector<std::string> conditions_of(const Library& library,
                                         const std::string& answered) const override {
    for (const auto& rule : library.knowledge.threats) {
      if (rule.threat.id == answered) return rule.threat.condition_ids;
    }
    return {};
  }
  std::string text(const DrillQuestion& question) const override {
    return (question.story.empty() ? "" : question.story + " ") +
           "What must you think of first, because it could kill first?";
  }
};

}  // namespace

const DrillKind& threat_kind() {
  static const ThreatKind kKind;
  return kKind;
}

}  // namespace phren::teaching
