#include "teaching/drill/drill.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

namespace phren::teaching {
namespace {

constexpr double kMostlyRight = 0.65;  // with one right and one wrong put in (ENGINEERING)
constexpr double kFade = 0.85;         // weight of an answer after the next one of the same skill

Status check(const char* field, double value, double low, double high, const char* allowed) {
  if (value >= low && value <= high) return {};
  return fail(out_of_range(field, value, allowed));
}

Status check_settings(const DrillSettings& s) {
  const std::pair<const char*, std::size_t> counts[] = {{"block_plays", s.block_plays},
                                                        {"open_skills", s.open_skills}};
  for (const auto& [field, count] : counts) {
    if (auto ok = check(field, static_cast<double>(count), 1, 50, "between 1 and 50"); !ok) {
      return ok;
    }
  }
  TRY(check("shaky_error", s.shaky_error, 0, 1, "between 0 and 1"));
  TRY(check("contrast_share", s.contrast_share, 0, 1, "between 0 and 1"));
  if (auto ok = check("wanted_recall", s.wanted_recall, 0.5, 0.99, "between 0.5 and 0.99"); !ok) {
    return ok;
  }
  return check("mastery_share", s.mastery_share, 0.5, 1, "between 0.5 and 1");
}

}  // namespace

Drill::Drill(std::vector<Skill> skills, const DrillSettings& settings, Seed seed)
    : skills_(std::move(skills)),
      settings_(settings),
      random_(seed, "drill"),
      states_(skills_.size()),
      counts_(skills_.size(), std::vector<std::size_t>(skills_.size(), 0)) {}

Result<Drill> Drill::make(std::vector<Skill> skills, const DrillSettings& settings, Seed seed) {
  if (skills.size() < 2) {
    return fail(out_of_range("number of skills", static_cast<double>(skills.size()), "2 or more"));
  }
  TRY(check_settings(settings));
  return Drill(std::move(skills), settings, seed);
}

DrillItem Drill::item(std::size_t skill, DrillReason reason) const {
  return {skill, states_[skill].plays, reason};
}

double Drill::recall_probability(std::size_t skill, double time_days) const {
  const SkillState& s = states_[skill];
  return memory_.recall_probability(s.plan.memory, time_days - s.last_days);
}

double Drill::recent_share(std::size_t skill) const {
  return states_[skill].right / (states_[skill].right + states_[skill].wrong);
}

double Drill::error_probability(std::size_t skill, double time_days) const {
  return 1.0 - recall_probability(skill, time_days) * recent_share(skill);
}

bool Drill::mastered(std::size_t skill) const {
  const SkillState& s = states_[skill];
  if (s.plays < settings_.mastery_plays) return false;
  // The two answers put in at the start have faded by now; take out what is left of them.
  const double left = std::pow(kFade, static_cast<double>(s.plays));
  const double right = s.right - left, wrong = s.wrong - left;
  return right >= settings_.mastery_share * (right + wrong);
}

acoustics::Realness Drill::realness_for(std::size_t skill) const {
  if (mastered(skill)) return acoustics::Realness::kPatient;
  const bool is_past_block = states_[skill].plays >= settings_.block_plays;
  return is_past_block && recent_share(skill) >= kMostlyRight ? acoustics::Realness::kClassroom
                                                              : acoustics::Realness::kClean;
}

double Drill::due_in_days(std::size_t skill, double time_days) const {
  const SkillState& s = states_[skill];
  return s.plays == 0 ? 0.0 : s.last_days + s.plan.due_in_days - time_days;
}

std::optional<DrillItem> Drill::continue_block() const {
  if (settings_.schedule == DrillSchedule::kMixed || !last_) return std::nullopt;
  const bool block_unfinished = states_[*last_].plays < settings_.block_plays;
  const bool keep_blocked = settings_.schedule == DrillSchedule::kBlocked && !mastered(*last_);
  if (!block_unfinished && !keep_blocked) return std::nullopt;
  return item(*last_, DrillReason::kFirstBlock);
}

std::optional<DrillItem> Drill::continue_contrast() {
  if (contrast_.empty()) return std::nullopt;
  const std::size_t skill = contrast_.back();
  contrast_.pop_back();
  return item(skill, DrillReason::kContrast);
}

std::optional<std::size_t> Drill::skill_to_open(double time_days) const {
  if (!settings_.opens_new) return std::nullopt;
  std::size_t shaky = 0;
  std::optional<std::size_t> unseen;
  for (std::size_t k = 0; k < states_.size(); ++k) {
    if (states_[k].plays == 0) {
      if (!unseen) unseen = k;
    } else if (error_probability(k, time_days) > settings_.shaky_error) {
      ++shaky;
    }
  }
  return shaky < settings_.open_skills ? unseen : std::nullopt;
}

DrillItem Drill::weakest(double time_days) {
  std::size_t best = states_.size();
  double best_error = -1.0;
  for (std::size_t k = 0; k < states_.size(); ++k) {
    if (states_[k].plays == 0 || (last_ == k && states_.size() > 1)) continue;
    const double error = error_probability(k, time_days) + 1e-6 * random_.uniform();
    if (error > best_error) {
      best_error = error;
      best = k;
    }
  }
  if (best == states_.size()) return item(last_.value_or(0), DrillReason::kReview);
  const double forgotten = 1.0 - recall_probability(best, time_days);
  const double confused = 1.0 - recent_share(best);
  if (forgotten < 1.0 - settings_.wanted_recall && confused < 1.0 - settings_.mastery_share) {
    return item(best, DrillReason::kReview);
  }
  return item(best, forgotten > confused ? DrillReason::kForgetting : DrillReason::kConfusion);
}

DrillItem Drill::next(double time_days) {
  if (const auto block = continue_block()) return *block;
  if (const auto contrast = continue_contrast()) return *contrast;
  if (const auto unseen = skill_to_open(time_days)) return item(*unseen, DrillReason::kFirstBlock);
  return weakest(time_days);
}

void Drill::answer(const DrillAnswer& answer) {
  assert(answer.skill < states_.size() && answer.answered < states_.size());
  SkillState& s = states_[answer.skill];
  const bool right = answer.skill == answer.answered;
  const Grade grade = !right ? Grade::kAgain : answer.slow ? Grade::kHard : Grade::kGood;
  const double elapsed = s.plays == 0 ? 0.0 : std::max(0.0, answer.time_days - s.last_days);
  s.plan = after_answer(memory_, s.plan, grade, elapsed, settings_.wanted_recall);
  s.last_days = answer.time_days;
  s.right = kFade * s.right + (right ? 1.0 : 0.0);
  s.wrong = kFade * s.wrong + (right ? 0.0 : 1.0);
  ++s.plays;
  ++counts_[answer.skill][answer.answered];
  last_ = answer.skill;
  const bool heard_before = states_[answer.answered].plays > 0;
  if (!right && heard_before && contrast_.empty() && random_.chance(settings_.contrast_share)) {
    // Played last first: the mistaken partner, then the missed sound again, side by side.
    contrast_ = {answer.skill, answer.answered};
  }
}

}  // namespace phren::teaching
