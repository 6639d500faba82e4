// On which side is the chest changed? The same place right and left of one patient.
#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {
namespace {

exam::Side other(exam::Side side) {
  return side == exam::Side::kRight ? exam::Side::kLeft : exam::Side::kRight;
}

class SideKind : public DrillKind {
 public:
  std::string_view id() const override { return "side"; }
  bool fits(const DrillBook& book, std::size_t skill) const override {
    if (!has_sounds(book, skill)) return false;
    const auto facts = book.sounds->facts(book.library->skills[skill].specimens.front());
    return facts && facts->side != exam::Side::kMidline;
  }
  std::size_t num_choices(const DrillBook&) const override { return 2; }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill side");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    question.choices = {{"right", "right"}, {"left", "left"}};
    const bool is_turned = random.chance(0.5);
    for (int i = 0; i < kBodiesTried; ++i) {
      DrillSound ill = sound_of(skill, 0, random);
      ill.is_turned = is_turned;
      DrillSound well = ill;
      well.is_opposite = true;
      if (!TRY(differ(book, ill, well))) continue;
      const auto facts = TRY(book.sounds->facts(ill.specimen_id));
      const auto side = is_turned ? other(facts.side) : facts.side;
      const bool is_right = side == exam::Side::kRight;
      question.truth = is_right ? "right" : "left";
      question.sounds = is_right ? std::vector{ill, well} : std::vector{well, ill};  // right first
      return question;
    }
    return not_clear(skill);
  }

  std::string text(const DrillQuestion&) const override {
    return "The first sound is from the patient's right, the second from the same place on the "
           "left. On which side is the chest changed?";
  }
  std::vector<std::string> sound_labels(const DrillQuestion&) const override {
    return {"right", "left"};
  }
  // The side that was named, heard on a patient who is ill there.
  std::vector<DrillSound> named(const DrillBook&, const DrillQuestion& question,
                                const std::string&) const override {
    std::vector<DrillSound> turned = question.sounds;
    for (DrillSound& sound : turned) {
      sound.is_turned = !sound.is_turned;
      sound.is_opposite = !sound.is_opposite;
    }
    return turned;
  }

 private:
  // The ill side is heard to be ill and the other is not.
  static Result<bool> differ(const DrillBook& book, const DrillSound& ill, const DrillSound& well) {
    const auto& skills = book.library->skills;
    const auto there = skills_heard(TRY(book.sounds->listen(ill)).heard, skills);
    const auto here = skills_heard(TRY(book.sounds->listen(well)).heard, skills);
    return !there.empty() && there.front() != "normal" && here != there;
  }
};

}  // namespace

const DrillKind& side_kind() {
  static const SideKind kKind;
  return kKind;
}

}  // namespace phren::teaching
