// In which phase of the breath does the added sound lie?
#include <algorithm>

#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {
namespace {

const std::vector<DrillChoice>& phase_choices() {
  static const std::vector<DrillChoice> kChoices{
      {"inspiration", "breathing in"}, {"expiration", "breathing out"}, {"both", "both"}};
  return kChoices;
}

class PhaseKind : public DrillKind {
 public:
  std::string_view id() const override { return "phase"; }
  bool fits(const DrillBook& book, std::size_t skill) const override {
    const Skill& one = book.library->skills[skill];
    if (!has_sounds(book, skill) || one.family == "breath_sound") return false;
    const auto facts = book.sounds->facts(one.specimens.front());
    return facts->sound && facts->company.empty();  // the most prominent is asked about
  }
  std::size_t num_choices(const DrillBook&) const override { return phase_choices().size(); }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill phase");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    question.choices = phase_choices();
    question.has_one_gain = false;
    for (int i = 0; i < kBodiesTried; ++i) {
      const DrillSound sound = sound_of(skill, asked.variant, random);
      const auto listened = TRY(book.sounds->listen(sound));
      const auto names = skills_heard(listened.heard, book.library->skills);
      if (names.empty() || names.front() != skill.id) continue;
      key(listened.heard.added.front(), question);
      question.sounds = {sound};
      return question;
    }
    return not_clear(skill);
  }

  std::string text(const DrillQuestion&) const override {
    return "In which phase of the breath does the added sound lie? Where there are several, ask it "
           "of the most prominent.";
  }
  std::vector<std::string> sound_labels(const DrillQuestion&) const override { return {""}; }
  // Another sound that lies where the answer says.
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    for (const std::size_t i : skills_of(book, *this)) {
      const Skill& skill = book.library->skills[i];
      for (std::size_t k = 0; k < skill.specimens.size(); ++k) {
        const auto facts = book.sounds->facts(skill.specimens[k]);
        if (!facts || lies(*facts) != answered) continue;
        RandomStream random(Seed{question.sounds.front().seed}, "drill named");
        return {sound_of(skill, k, random)};
      }
    }
    return {};
  }

 private:
  static std::string lies(const SpecimenFacts& facts) {
    if (!facts.phase) return "both";
    return *facts.phase == exam::Phase::kInspiration ? "inspiration" : "expiration";
  }
  // A phase with little of the sound does not name it; but whoever hears or sees that little and says
  // "both" is right as well.
  static void key(const bedside::AddedSound& added, DrillQuestion& question) {
    const bool in = added.is_in(exam::Phase::kInspiration);
    const bool out = added.is_in(exam::Phase::kExpiration);
    question.truth = in && out ? "both" : in ? "inspiration" : "expiration";
    question.accepted.clear();
    if (in != out && added.in.audible > 0 && added.out.audible > 0) {
      question.accepted.emplace_back("both");
    }
  }
};

}  // namespace

const DrillKind& phase_kind() {
  static const PhaseKind kKind;
  return kKind;
}

}  // namespace phren::teaching
