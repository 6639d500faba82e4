// A question of meaning: a sound, beside a healthy chest, and what it speaks for; the answer comes from the
// weighing (drill/meaning.h).
#pragma once

#include <algorithm>

#include "patient/conditions.h"
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
  // Conditions that an answer stands for, the likeliest first.
  virtual std::vector<std::string> conditions_of(const Library& library,
                                                 const std::string& answered) const = 0;

  // A patient who has what was named: a specimen of it, else a body of its age that is given it.
  std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                const std::string& answered) const override {
    const auto candidates = conditions_of(*book.library, answered);
    DrillSound sound;
    sound.seed = question.sounds.front().seed;
    sound.seconds = kDrillSound_s;
    for (const std::string& condition : candidates) {
      for (const std::string& id : book.sounds->specimen_ids()) {
        const auto facts = book.sounds->facts(id);
        if (!facts || std::find(facts->conditions.begin(), facts->conditions.end(), condition) ==
                          facts->conditions.end()) {
          continue;
        }
        sound.specimen_id = id;
        return {sound};
      }
    }
    for (const std::string& id : candidates) {
      const auto condition = book.library->conditions.find(id);
      if (!condition) continue;
      const auto body = body_of(book, question.sounds.front().specimen_id, *condition);
      if (body.empty()) continue;
      sound.specimen_id = body;
      sound.condition_id = id;
      return {sound};
    }
    return {};
  }

 private:
  // A specimen whose body is of an age that has the condition: the one that was heard, if it fits.
  static std::string body_of(const DrillBook& book, const std::string& heard,
                             const patient::Condition& condition) {
    auto ids = book.sounds->specimen_ids();
    ids.insert(ids.begin(), heard);
    for (const std::string& id : ids) {
      const auto facts = book.sounds->facts(id);
      if (facts && facts->is_listened_to && facts->age_years >= condition.least_age_years &&
          facts->age_years <= condition.most_age_years) {
        return id;
      }
    }
    return {};
  }
};

}  // namespace phren::teaching
