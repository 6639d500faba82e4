#include "teaching/drill/rules.h"

#include <algorithm>
#include <cmath>

namespace phren::teaching {
namespace {

void words(Fields& f, const char* key, std::set<std::string>& target) {
  std::vector<std::string> list(target.begin(), target.end());
  f.texts(key, list);
  if (!f.reads()) return;
  target = {list.begin(), list.end()};
  if (target.empty()) f.note(out_of_range(key, "empty", "a list of at least one word"));
}

Status all_known(const char* name, const std::set<std::string>& seen,
                 const std::set<std::string>& known) {
  for (const std::string& one : seen) {
    if (known.contains(one)) continue;
    return fail(out_of_range(name, "'" + one + "'", "words that GET lists"));
  }
  return {};
}

}  // namespace

void describe(Fields& f, DrillRules& rules) {
  constexpr double kMostNewPerDay = 50.0;
  words(f, "modes", rules.modes);
  words(f, "skills", rules.skills);
  f.number("new_per_day", rules.new_per_day, 1.0, kMostNewPerDay);
  if (f.reads() && rules.new_per_day && *rules.new_per_day != std::floor(*rules.new_per_day)) {
    f.note(out_of_range("new_per_day", *rules.new_per_day, "null or a whole number"));
  }
  f.flag("sound_only", rules.sound_only);
}

DrillRules all_allowed(const DrillBook& book) {
  DrillRules rules;
  for (const DrillKind* kind : drill_kinds()) rules.modes.emplace(kind->id());
  for (const std::size_t i : skills_of(book, *drill_kinds().front())) {
    rules.skills.insert(book.library->skills[i].id);
  }
  return rules;
}

Status check_rules(const DrillBook& book, const DrillRules& rules) {
  const DrillRules all = all_allowed(book);
  TRY(all_known("modes", rules.modes, all.modes));
  TRY(all_known("skills", rules.skills, all.skills));
  for (const std::string& mode : rules.modes) {
    const auto usable = allowed_skills(book, *find_drill_kind(mode), rules).size();
    if (usable < 2) {
      return fail(out_of_range("number of chosen sounds that \"" + mode + "\" can ask about",
                               static_cast<double>(usable),
                               "2 or more: choose more sounds or leave that question out"));
    }
  }
  return {};
}

DrillRules together(DrillRules some, const DrillRules& others) {
  some.modes.insert(others.modes.begin(), others.modes.end());
  some.skills.insert(others.skills.begin(), others.skills.end());
  some.sound_only = some.sound_only && others.sound_only;
  some.new_per_day = some.new_per_day && others.new_per_day
                         ? std::optional(std::max(*some.new_per_day, *others.new_per_day))
                         : std::nullopt;
  return some;
}

std::vector<std::size_t> allowed_skills(const DrillBook& book, const DrillKind& kind,
                                        const DrillRules& rules) {
  std::vector<std::size_t> list;
  for (const std::size_t i : skills_of(book, kind)) {
    const Skill& skill = book.library->skills[i];
    if (!skill.lobe && !rules.skills.contains(skill.id)) continue;
    const bool has_partner = std::any_of(
        skill.confusable.begin(), skill.confusable.end(),
        [&](std::size_t other) { return rules.skills.contains(book.library->skills[other].id); });
    if (kind.needs_partner() && !has_partner) continue;
    list.push_back(i);
  }
  return list;
}

}  // namespace phren::teaching
