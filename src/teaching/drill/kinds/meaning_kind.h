// A question of meaning: a sound, beside a healthy chest, and what it speaks for; the answer comes from the
// weighing (drill/meaning.h).
#pragma once

#include <algorithm>

#include "teaching/drill/kinds/parts.h"
#include "teaching/drill/meaning.h"

namespace phren::teaching {

class MeaningKind : public DrillKind {
 public:
  // The finding to ask by; empty: none.
  virtual std::string finding(const Meaning& meaning) const = 0;
  virtual Result<MeaningTask> task(const reasoning::Knowledge& knowledge,
                                   const std::string& finding, Seed seed) const = 0;

  bool fits(const DrillBook& book, std::size_t skill) const override {
    return has_sounds(book, skill) && !finding(book.library->meanings[skill]).empty();
  }
  std::size_t num_choices(const DrillBook&) const override { return 4; }

  Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const override {
    RandomStream random(asked.seed, "drill meaning");
    const Skill& skill = book.library->skills[asked.skill];
    DrillQuestion question = begin_question(book, *this, asked, random);
    auto made = TRY(task(book.library->knowledge, finding(book.library->meanings[asked.skill]),
                         Seed{random.bits()}));
    question.truth = std::move(made.truth);
    question.story = std::move(made.story);
    question.explanation = std::move(made.explanation);
    for (auto& one : made.choices) {
      question.choices.push_back({std::move(one.id), std::move(one.label)});
    }
    question.sounds.push_back(TRY(clear_sound(book, skill, asked.variant, random)));
    question.sounds.push_back(healthy_beside(question.sounds.front(), random));
    return question;
  }

  std::vector<std::string> sound_labels(const DrillQuestion&) const override {
    return {"this chest", "a healthy chest"};
  }
  // A patient who has what was named, where a specimen is one.
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    for (const std::string& id : book.sounds->specimen_ids()) {
      const auto facts = book.sounds->facts(id);
      if (!facts || std::find(facts->conditions.begin(), facts->conditions.end(), answered) ==
                        facts->conditions.end()) {
        continue;
      }
      DrillSound sound;
      sound.specimen_id = id;
      sound.seed = question.sounds.front().seed;
      sound.seconds = kDrillSound_s;
      return {sound};
    }
    return {};
  }
};

}  // namespace phren::teaching
