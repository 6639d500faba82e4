// Are the two sounds of the same kind? A sound beside another of its kind, or beside its look-alike.
#include <algorithm>

#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {
namespace {

class SameKind : public DrillKind {
 public:
  std::string_view id() const override { return "same"; }
  bool fits(const DrillBook& book, std::size_t skill) const override {
    const auto& confusable = book.library->skills[skill].confusable;
    return has_sounds(book, skill) &&
           std::any_of(confusable.begin(), confusable.end(),
                       [&](std::size_t other) { return has_sounds(book, other); });
  }
  bool needs_partner() const override { return true; }
  std::size_t num_choices(const DrillBook&) const override { return 2; }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill same");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    const Skill* partner = book.library->skill(question.partner);
    if (partner == nullptr) {
      return fail(ErrorCode::kUnsupported, skill.label + " has no look-alike to stand beside");
    }
    question.choices = {{"same", "the same kind"}, {"different", "different kinds"}};
    // Of the pair, not of what is played: or it would tell which was chosen.
    question.has_one_gain = is_known_by_level(book, skill) || is_known_by_level(book, *partner);
    const bool is_same = random.chance(0.5);
    question.truth = is_same ? "same" : "different";
    question.sounds = {TRY(clear_sound(book, skill, asked.variant, random, partner->id)),
                       TRY(clear_sound(book, is_same ? skill : *partner, asked.variant + 1, random,
                                       is_same ? partner->id : skill.id))};
    if (random.chance(0.5)) std::swap(question.sounds[0], question.sounds[1]);
    return question;
  }

  std::string text(const DrillQuestion&) const override {
    return "Are the two sounds of the same kind? Where there are several, go by the most "
           "prominent.";
  }
  std::vector<std::string> sound_labels(const DrillQuestion&) const override {
    return {"first", "second"};
  }
  // What would have made the answer right: the look-alike, or another of the same kind.
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    const Skill* wanted =
        book.library->skill(answered == "same" ? question.skill : question.partner);
    if (wanted == nullptr || wanted->specimens.empty()) return {};
    RandomStream random(Seed{question.sounds.front().seed}, "drill named");
    return {sound_of(*wanted, 0, random)};
  }
};

}  // namespace

const DrillKind& same_kind() {
  static const SameKind kKind;
  return kKind;
}

}  // namespace phren::teaching
