// Which sound should this learner hear next, and why? Chosen from what is about to be forgotten and
// from what this learner confuses.
//
// Units:   times in days since any fixed instant; never below an earlier one.
// Errors:  make() names the setting out of range; answer() asserts on indices.
// Threads: an instance belongs to one learner and one thread.
// Source:  memory by FSRS-6 (memory.h). The choice itself is ours (ENGINEERING): the skill with the
//          largest chance of a wrong answer now, weighing forgetting and confusions together; a
//          class never heard starts in a block, then is mixed with those it is taken for (lung
//          sounds: interleaving helped, doi 10.1002/acp.70063; heart traces: blocking helped,
//          doi 10.1007/s40037-017-0365-x; so the schedule is a setting). Compared with random and
//          even practice on simulated learners: docs/validation/teaching.md.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "acoustics/layers.h"
#include "base/random.h"
#include "base/result.h"
#include "teaching/drill/memory.h"
#include "teaching/drill/skills.h"

namespace phren::teaching {

enum class DrillSchedule { kBlockedThenMixed, kBlocked, kMixed };

struct DrillSettings {
  DrillSchedule schedule = DrillSchedule::kBlockedThenMixed;
  std::size_t block_plays = 3;    // plays in a row when a class is first met, 1..50
  std::size_t open_skills = 4;    // shaky classes at most before a new one is opened, 1..50
  double shaky_error = 0.35;      // chance of error above which a class counts as shaky, 0..1
  double contrast_share = 0.5;    // chance that a confusion is followed by its partner, 0..1
  double wanted_recall = 0.9;     // 0.5..0.99; when a class counts as due
  double mastery_share = 0.85;    // 0.5..1; see Drill::mastered
  std::size_t mastery_plays = 6;  // answers at least before mastery is spoken of
  bool opens_new = true;          // may a class never heard come now?
};

enum class DrillReason { kFirstBlock, kContrast, kForgetting, kConfusion, kReview };

struct DrillItem {
  std::size_t skill = 0;
  std::size_t variant = 0;  // counts up per skill: never the same recording twice running
  DrillReason reason = DrillReason::kReview;
};

struct DrillAnswer {
  std::size_t skill = 0;     // what was played
  std::size_t answered = 0;  // what the learner said
  double time_days = 0.0;
  bool slow = false;  // right, but only after long thought
};

class Drill {
 public:
  static Result<Drill> make(std::vector<Skill> skills, const DrillSettings& settings, Seed seed);

  DrillItem next(double time_days);
  void answer(const DrillAnswer& answer);  // REQUIRES: indices below the number of skills

  // Chance that this learner would miss the skill now: forgetting times what is confused.
  double error_probability(std::size_t skill, double time_days) const;
  double recall_probability(std::size_t skill, double time_days) const;
  // Recent share of right answers, old ones fading, with one right and one wrong put in.
  double recent_share(std::size_t skill) const;
  bool mastered(std::size_t skill) const;
  // How real the next sound of a class may be: clean at first, as in a classroom once its block is
  // done and most answers are right, as on a patient when it is mastered.
  acoustics::Realness realness_for(std::size_t skill) const;
  double due_in_days(std::size_t skill, double time_days) const;  // below 0 = overdue
  std::size_t num_plays(std::size_t skill) const { return states_[skill].plays; }
  // How often `truth` was called `answered`.
  std::size_t confusions(std::size_t truth, std::size_t answered) const {
    return counts_[truth][answered];
  }
  const std::vector<Skill>& skills() const { return skills_; }

 private:
  struct SkillState {
    ReviewPlan plan;
    double last_days = 0.0;
    double right = 1.0;  // fading counts, each starting at one
    double wrong = 1.0;
    std::size_t plays = 0;
  };
  Drill(std::vector<Skill> skills, const DrillSettings& settings, Seed seed);

  std::optional<DrillItem> continue_block() const;
  std::optional<DrillItem> continue_contrast();
  std::optional<std::size_t> skill_to_open(double time_days) const;
  DrillItem weakest(double time_days);
  DrillItem item(std::size_t skill, DrillReason reason) const;

  std::vector<Skill> skills_;
  DrillSettings settings_;
  MemoryModel memory_;
  RandomStream random_;
  std::vector<SkillState> states_;
  std::vector<std::vector<std::size_t>> counts_;  // [truth][answered]
  std::vector<std::size_t> contrast_;             // skills still to be played side by side
  std::optional<std::size_t> last_;
};

}  // namespace phren::teaching
