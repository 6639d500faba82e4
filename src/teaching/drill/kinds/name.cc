// Which sound is it? Beside every sound plays a healthy chest at the same place, for only beside it can be
// heard that a chest is quiet; with every kind, or its presence would tell.
#include <algorithm>

#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {
namespace {

class NameKind : public DrillKind {
 public:
  std::string_view id() const override { return "name"; }
  bool fits(const DrillBook& book, std::size_t skill) const override {
    return has_sounds(book, skill);
  }
  bool chooses_skills() const override { return true; }
  std::size_t num_choices(const DrillBook& book) const override {
    return skills_of(book, *this).size();
  }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill name");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    for (const std::size_t i : skills_of(book, *this)) {
      const Skill& one = book.library->skills[i];
      if (asked.skills.empty() || asked.skills.contains(one.id)) {
        question.choices.push_back({one.id, one.label});
      }
    }
    for (int i = 0; i < kBodiesTried && question.truth != skill.id; ++i) {
      take_if_better(book, sound_of(skill, asked.variant, random), skill, question);
    }
    if (question.truth.empty()) return not_clear(skill);
    question.sounds.push_back(healthy_beside(question.sounds.front(), random));
    return question;
  }

  std::string text(const DrillQuestion&) const override {
    return "Which sound is it? Where there are several, name the most prominent. The second is a "
           "healthy chest at the same place, at its true loudness.";
  }
  std::vector<std::string> sound_labels(const DrillQuestion&) const override {
    return {"this chest", "a healthy chest"};
  }
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    const Skill* skill = book.library->skill(answered);
    if (skill == nullptr || skill->specimens.empty()) return {};
    RandomStream random(Seed{question.sounds.front().seed}, "drill named");
    return {sound_of(*skill, 0, random)};
  }
  std::string remembered(const DrillQuestion& question,
                         const std::string& answered) const override {
    return question.accepts(answered) ? question.skill : answered;
  }

 private:
  // The skill must be heard; better where it is the most prominent of what is.
  static void take_if_better(const DrillBook& book, const DrillSound& sound, const Skill& skill,
                             DrillQuestion& question) {
    const auto listened = book.sounds->listen(sound);
    if (!listened) return;
    std::vector<std::string> names;
    for (const auto& name : skills_heard(listened->heard, book.library->skills)) {
      if (question.choice(name) != nullptr) names.push_back(name);
    }
    if (std::find(names.begin(), names.end(), skill.id) == names.end()) return;
    if (!question.truth.empty() && names.front() != skill.id) return;
    question.truth = names.front();
    question.accepted.assign(names.begin() + 1, names.end());
    question.sounds = {sound};
  }
};

}  // namespace

const DrillKind& name_kind() {
  static const NameKind kKind;
  return kKind;
}

}  // namespace phren::teaching
