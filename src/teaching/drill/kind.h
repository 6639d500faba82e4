// The kinds of question that the drill asks, one file each in kinds/: what can be asked of a skill, how
// a question is made, what it says to the learner, what is right, and why.
//
// Law:     a key never contradicts what can be heard in that very sound. Every sound with a key is
//          listened to (bedside/heard.h) before it is asked; another body is tried where it does
//          not say clearly what the question is about.
// Secrets: a question is made from a seed that nobody outside knows; all its sounds are of one
//          length, and whether they are played with one gain hangs on the skill, not on the answer.
// Errors:  make() gives kUnsupported where no body of several sounds clearly enough.
// Threads: any; nothing here changes.
#pragma once

#include <memory>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/types.h"
#include "base/random.h"
#include "bedside/heard.h"
#include "teaching/drill/question.h"
#include "teaching/library.h"

namespace phren::teaching {

// What a specimen says of itself.
struct SpecimenFacts {
  std::string name, listen, mechanism;
  std::optional<exam::Sound> sound;  // none: known by how little is heard
  std::optional<exam::Phase> phase;  // where most of it lies
  exam::Side side = exam::Side::kMidline;
  double age_years = 40.0;
  bool is_listened_to = true;  // else a finger taps
  std::vector<std::string> conditions;
  std::vector<std::string> company;  // skills that are always heard with it, plainer perhaps
};

struct Listened {
  std::vector<acoustics::TruthEvent> truth;
  bedside::HeardAt heard;
};

// Where the sounds come from.
class DrillSounds {
 public:
  virtual ~DrillSounds() = default;
  virtual std::vector<std::string> specimen_ids() const = 0;
  virtual Result<SpecimenFacts> facts(std::string_view specimen_id) const = 0;
  virtual Result<Listened> listen(const DrillSound& sound) const = 0;
};

// What questions are made from.
struct DrillBook {
  std::shared_ptr<const Library> library;
  std::shared_ptr<const DrillSounds> sounds;
};

// What is to be asked.
struct Asked {
  std::size_t skill = 0;    // of the library's skills
  std::size_t variant = 0;  // counts the plays, so that no recording comes twice running
  Seed seed;
  std::set<std::string> skills = {};  // that may be chosen or played beside it; empty: all
};

class DrillKind {
 public:
  virtual ~DrillKind() = default;
  virtual std::string_view id() const = 0;
  // Whether it can ask about the skill.
  virtual bool fits(const DrillBook& book, std::size_t skill) const = 0;
  virtual Result<DrillQuestion> make(const DrillBook& book, const Asked& asked) const = 0;
  virtual std::string text(const DrillQuestion& question) const = 0;
  // What the sounds are to the learner, one word or two each; "" needs none.
  virtual std::vector<std::string> sound_labels(const DrillQuestion& question) const = 0;
  // Why the key is right, after the answer.
  virtual Result<std::string> reason(const DrillBook& book, const DrillQuestion& question) const;
  // What was named by a wrong answer, to be heard beside what was right; may be none.
  virtual std::vector<DrillSound> named(const DrillBook& book, const DrillQuestion& question,
                                        const std::string& answered) const;
  // The skill that the memory takes the answer for.
  virtual std::string remembered(const DrillQuestion& question, const std::string& answered) const;
  virtual bool chooses_skills() const { return false; }  // the choices are skills
  // Places are told apart from one another alone: in a row they would give themselves away.
  virtual bool is_always_mixed() const { return false; }
  virtual bool needs_partner() const { return false; }  // asks about a skill beside its look-alike
  // How many choices there are, for the chance of a guess.
  virtual std::size_t num_choices(const DrillBook& book) const = 0;
};

std::span<const DrillKind* const> drill_kinds();
const DrillKind* find_drill_kind(std::string_view id);  // null: there is none
std::string drill_kind_ids();                           // "name, phase, ..."
// Skills that a kind can ask about, as indices of the library's.
std::vector<std::size_t> skills_of(const DrillBook& book, const DrillKind& kind);
std::vector<DrillChoice> choices_from(const DrillBook& book,
                                      const std::vector<std::size_t>& skills);

// Makes the sounds of a question as real as wanted, or less, so that in each of them the same stays
// to be heard as in the clean one.
Status make_real(const DrillBook& book, DrillQuestion& question, acoustics::Realness wanted);

// What can be heard, as skills, the most prominent first: "normal" only where nothing else is. Empty
// where it was listened to for too short a time.
std::vector<std::string> skills_heard(const bedside::HeardAt& heard,
                                      const std::vector<Skill>& skills);

}  // namespace phren::teaching
