// In which lobe is the lung changed? The same deep breaths of one patient at six places; which lobe is solid is
// the patient's, and the acoustics make what is heard of it.
#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {
namespace {

// Three places of each side; each lobe lies mostly under one or two of them (data/sites.toml).
constexpr const char* kPlaces[] = {"F5", "F6", "F9", "F10", "P9", "P10"};

class LobeKind : public DrillKind {
 public:
  std::string_view id() const override { return "lobe"; }
  bool fits(const DrillBook& book, std::size_t skill) const override {
    const Skill& one = book.library->skills[skill];
    return one.lobe && !one.specimens.empty();
  }
  bool chooses_skills() const override { return true; }
  bool is_always_mixed() const override { return true; }
  std::size_t num_choices(const DrillBook& book) const override {
    return skills_of(book, *this).size();
  }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill lobe");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    question.choices = choices_from(book, skills_of(book, *this));
    question.truth = skill.id;
    question.sounds = TRY(places(book, skill, sound_of(skill, asked.variant, random)));
    question.explanation = TRY(explain(book, skill));
    return question;
  }

  std::string text(const DrillQuestion&) const override {
    return "The same deep breaths at six places, right and left in turn. In which lobe is the lung "
           "changed?";
  }
  std::vector<std::string> sound_labels(const DrillQuestion& question) const override {
    std::vector<std::string> labels;
    for (const DrillSound& one : question.sounds) labels.push_back(one.site_name);
    return labels;
  }
  // The same patient with the lobe that was named changed.
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    const Skill* skill = book.library->skill(answered);
    if (skill == nullptr || !skill->lobe) return {};
    std::vector<DrillSound> sounds = question.sounds;
    for (DrillSound& one : sounds) one.lobe = skill->lobe;
    return sounds;
  }
  std::string remembered(const DrillQuestion& question,
                         const std::string& answered) const override {
    return question.accepts(answered) ? question.skill : answered;
  }

 private:
  static Result<std::vector<DrillSound>> places(const DrillBook& book, const Skill& skill,
                                                DrillSound sound) {
    std::vector<DrillSound> sounds;
    sound.lobe = skill.lobe;
    for (const char* place : kPlaces) {
      const auto site = TRY(book.library->sites.find(place));
      sound.site_id = site.id;
      sound.site_name = site.name;
      sounds.push_back(sound);
    }
    return sounds;
  }
  static Result<std::string> explain(const DrillBook& book, const Skill& skill) {
    std::string over;
    for (const char* place : kPlaces) {
      const auto site = TRY(book.library->sites.find(place));
      if (site.lobe_weight[static_cast<std::size_t>(*skill.lobe)] > 0.5) {
        over += (over.empty() ? "" : " and the ") + site.name;
      }
    }
    return "The " + skill.label +
           " is filled: crackles, and bronchial breathing the more solid it is. Of these places "
           "the " +
           over + (over.find(" and ") == std::string::npos ? " lies" : " lie") +
           " over it; the same place of the other side tells what is usual.";
  }
};

}  // namespace

const DrillKind& lobe_kind() {
  static const LobeKind kKind;
  return kKind;
}

}  // namespace phren::teaching
