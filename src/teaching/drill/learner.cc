#include "teaching/drill/learner.h"

#include <algorithm>
#include <set>

namespace phren::teaching {
namespace {

constexpr double kDay_ms = 86'400'000.0;

std::optional<std::size_t> index_of(const DrillBook& book, const std::vector<std::size_t>& skills,
                                    const std::string& id) {
  for (std::size_t k = 0; k < skills.size(); ++k) {
    if (book.library->skills[skills[k]].id == id) return k;
  }
  return std::nullopt;
}

// The skills alone, with look-alikes counted among them.
std::vector<Skill> linked(const DrillBook& book, const std::vector<std::size_t>& used) {
  std::vector<Skill> skills;
  for (const std::size_t i : used) {
    Skill skill = book.library->skills[i];
    std::vector<std::size_t> confusable;
    for (const std::size_t other : skill.confusable) {
      const auto k = index_of(book, used, book.library->skills[other].id);
      if (k) confusable.push_back(*k);
    }
    skill.confusable = std::move(confusable);
    skills.push_back(std::move(skill));
  }
  return skills;
}

}  // namespace

double days_of(std::int64_t ms) {
  return static_cast<double>(ms) / kDay_ms;
}

Drill drill_of(const DrillBook& book, const DrillKind& kind, const std::vector<std::size_t>& skills,
               const PastAnswers& answers, const DrillSettings& settings, Seed seed) {
  auto drill = Drill::make(linked(book, skills), settings, seed).value();
  for (const PastAnswer& answer : answers) {
    if (answer.mode != kind.id()) continue;
    const auto skill = index_of(book, skills, answer.skill);
    const auto said = index_of(book, skills, answer.answered);
    if (!skill) continue;  // a skill that is no longer asked for
    // A wrong answer that names no skill of this kind: the next one stands for it.
    const std::size_t wrong = (*skill + 1) % skills.size();
    drill.next(days_of(answer.at_ms));
    drill.answer({*skill, said.value_or(wrong), days_of(answer.at_ms), answer.slow});
  }
  return drill;
}

void describe(Fields& f, SkillStanding& standing) {
  f.text("mode", standing.mode);
  f.text("id", standing.id);
  f.text("label", standing.label);
  f.whole("plays", standing.plays, 0.0, 1e9);
  f.number("recall", standing.recall, 0.0, 1.0);
  f.number("recent_share", standing.recent_share, 0.0, 1.0);
  f.flag("is_mastered", standing.is_mastered);
  f.number("due_in_days", standing.due_in_days, -1e6, 1e6);
}

SkillStanding standing_of(const DrillKind& kind, const Drill& drill, std::size_t index,
                          std::int64_t now_ms) {
  const Skill& skill = drill.skills()[index];
  SkillStanding standing{
      std::string(kind.id()), skill.id, skill.label, drill.num_plays(index), {}, {}, {}, false};
  standing.is_mastered = drill.mastered(index);
  if (standing.plays == 0) return standing;
  const double now = days_of(now_ms);
  standing.recall = drill.recall_probability(index, now);
  standing.recent_share = drill.recent_share(index);
  standing.due_in_days = drill.due_in_days(index, now);
  return standing;
}

std::vector<SkillStanding> standings(const DrillBook& book, const PastAnswers& answers,
                                     std::int64_t now_ms) {
  std::vector<SkillStanding> list;
  for (const DrillKind* kind : drill_kinds()) {
    // What is remembered does not hang on what would come next, so any seed will do.
    const auto drill = drill_of(book, *kind, skills_of(book, *kind), answers, {}, Seed{1});
    for (std::size_t k = 0; k < drill.skills().size(); ++k) {
      if (kind != drill_kinds().front() && drill.num_plays(k) == 0) continue;
      list.push_back(standing_of(*kind, drill, k, now_ms));
    }
  }
  return list;
}

Confusion confusion_of(const DrillBook& book, const PastAnswers& answers) {
  const DrillKind& naming = *drill_kinds().front();
  const auto used = skills_of(book, naming);
  Confusion out;
  out.counts.assign(used.size(), std::vector<int>(used.size(), 0));
  for (const std::size_t i : used) out.labels.push_back(book.library->skills[i].label);
  for (const PastAnswer& answer : answers) {
    if (answer.mode != naming.id()) continue;
    const auto truth = index_of(book, used, answer.skill);
    const auto said = index_of(book, used, answer.answered);
    if (truth && said) ++out.counts[*truth][*said];
  }
  return out;
}

Met met_of(const DrillBook& book, const DrillKind& kind, const std::vector<std::size_t>& skills,
           const PastAnswers& answers, std::int64_t now_ms) {
  Met met;
  std::set<std::string> seen;
  for (const PastAnswer& one : answers) {
    if (one.mode != kind.id() || !seen.insert(one.skill).second) continue;
    if (static_cast<double>(now_ms - one.at_ms) < kDay_ms) ++met.lately;
    met.any = met.any || index_of(book, skills, one.skill).has_value();
  }
  return met;
}

}  // namespace phren::teaching
