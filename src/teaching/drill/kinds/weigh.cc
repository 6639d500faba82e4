// What does the sound speak for most?
#include "teaching/drill/kinds/meaning_kind.h"

namespace phren::teaching {
namespace {

class WeighKind : public MeaningKind {
 public:
  std::string_view id() const override { return "weigh"; }
  std::string finding(const Meaning& meaning) const override { return meaning.weigh; }
  Result<MeaningTask> task(const reasoning::Knowledge& knowledge, const std::string& finding,
                           Seed seed) const override {
    return weigh_task(knowledge, finding, seed);
  }
  std::vector<std::string> conditions_of(const Library&,
                                         const std::string& answered) const override {
    return {answered};
  }
  std::string text(const DrillQuestion&) const override {
    return "Of these, what does the sound speak for most?";
  }
};

}  // namespace

const DrillKind& weigh_kind() {
  static const WeighKind kKind;
  return kKind;
}

}  // namespace phren::teaching
