#include "app/server/api/learner_view.h"

#include <algorithm>
#include <optional>

namespace phren::app::server {
namespace {

using nlohmann::json;

constexpr Seed kDrillSeed{11};

bool fits(const Office& office, const teaching::Skill& skill, const std::string& mode) {
  if (skill.specimens.empty()) return false;
  if (mode == "lobe" || skill.lobe) return mode == "lobe" && skill.lobe;
  const auto specimen = office.specimens.find(skill.specimens.front());
  if (!specimen) return false;
  const auto& meaning = office.meanings[static_cast<std::size_t>(&skill - office.skills.data())];
  if (mode == "weigh") return !meaning.weigh.empty();
  if (mode == "threat") return !meaning.threat.empty();
  if (mode == "phase") return skill.family != "breath_sound" && specimen->sound.has_value();
  if (mode == "side") {
    return std::any_of(
        specimen->setup.conditions.begin(), specimen->setup.conditions.end(),
        [](const patient::ConditionUse& one) { return one.side != exam::Side::kMidline; });
  }
  return true;
}

std::optional<std::size_t> index_of(const Office& office, const std::vector<std::size_t>& skills,
                                    const std::string& id) {
  for (std::size_t k = 0; k < skills.size(); ++k) {
    if (office.skills[skills[k]].id == id) return k;
  }
  return std::nullopt;
}

}  // namespace

double days_of(std::int64_t ms) {
  return static_cast<double>(ms) / 86'400'000.0;
}

std::vector<std::size_t> skills_of_mode(const Office& office, const std::string& mode) {
  std::vector<std::size_t> list;
  for (std::size_t i = 0; i < office.skills.size(); ++i) {
    if (fits(office, office.skills[i], mode)) list.push_back(i);
  }
  return list;
}

teaching::Drill drill_of(const Office& office, const std::string& mode,
                         const std::vector<records::DrillAnswerRecord>& answers,
                         const teaching::DrillSettings& settings,
                         const std::optional<std::vector<std::size_t>>& asked) {
  const auto used = asked.value_or(skills_of_mode(office, mode));
  std::vector<teaching::Skill> skills;
  for (const std::size_t i : used) {
    teaching::Skill skill = office.skills[i];
    std::vector<std::size_t> confusable;
    for (const std::size_t other : skill.confusable) {
      if (const auto k = index_of(office, used, office.skills[other].id)) confusable.push_back(*k);
    }
    skill.confusable = std::move(confusable);
    skills.push_back(std::move(skill));
  }
  auto drill = teaching::Drill::make(std::move(skills), settings, kDrillSeed).value();
  for (const auto& answer : answers) {
    if (answer.mode != mode) continue;
    const auto skill = index_of(office, used, answer.skill);
    const auto said = index_of(office, used, answer.answered);
    if (!skill) continue;  // a skill that is no longer asked for
    // A wrong answer that names no skill of this mode: the next one stands for it.
    const std::size_t wrong = (*skill + 1) % used.size();
    drill.next(days_of(answer.at_ms));
    drill.answer({*skill, said.value_or(wrong), days_of(answer.at_ms), answer.slow});
  }
  return drill;
}

json skill_json(const Office&, const std::string& mode, const teaching::Drill& drill,
                std::size_t index, std::int64_t now_ms) {
  const double now = days_of(now_ms);
  const bool is_new = drill.num_plays(index) == 0;
  return {{"mode", mode},
          {"id", drill.skills()[index].id},
          {"label", drill.skills()[index].label},
          {"plays", drill.num_plays(index)},
          {"recall", is_new ? json() : json(drill.recall_probability(index, now))},
          {"recent_share", is_new ? json() : json(drill.recent_share(index))},
          {"is_mastered", drill.mastered(index)},
          {"due_in_days", is_new ? json() : json(drill.due_in_days(index, now))}};
}

json skills_json(const Office& office, const std::vector<records::DrillAnswerRecord>& answers,
                 std::int64_t now_ms) {
  json list = json::array();
  for (const std::string mode : kDrillModes) {
    const auto drill = drill_of(office, mode, answers);
    for (std::size_t k = 0; k < drill.skills().size(); ++k) {
      if (mode != "name" && drill.num_plays(k) == 0) continue;
      list.push_back(skill_json(office, mode, drill, k, now_ms));
    }
  }
  return list;
}

json confusion_json(const Office& office, const std::vector<records::DrillAnswerRecord>& answers) {
  const auto used = skills_of_mode(office, "name");
  std::vector<std::vector<int>> counts(used.size(), std::vector<int>(used.size(), 0));
  for (const auto& answer : answers) {
    if (answer.mode != "name") continue;
    const auto truth = index_of(office, used, answer.skill);
    const auto said = index_of(office, used, answer.answered);
    if (truth && said) ++counts[*truth][*said];
  }
  json labels = json::array();
  for (const std::size_t i : used) labels.push_back(office.skills[i].label);
  return {{"labels", std::move(labels)}, {"counts", counts}};
}

}  // namespace phren::app::server
