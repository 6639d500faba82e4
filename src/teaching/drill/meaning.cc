#include "teaching/drill/meaning.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "base/stable_sort.h"
#include "reasoning/threats.h"
#include "reasoning/weigh.h"

namespace phren::teaching {
namespace {

constexpr std::size_t kChoices = 4;
const double kStandsOut = std::log(2.0);  // of log-odds, above each other choice
constexpr const char* kSettings[] = {"ems_adult", "ems_child"};

exam::Examination patient_with(const reasoning::Knowledge& knowledge,
                               const std::vector<std::string>& findings,
                               const std::string& setting) {
  exam::Examination patient;
  patient.setting = setting;
  patient.age_years = setting == "ems_child" ? 3.0 : 50.0;
  for (const std::string& id : findings) {
    exam::Finding finding;
    finding.id = id;
    finding.presence = exam::Presence::kPresent;
    finding.basis = knowledge.findings[*knowledge.findings.index_of(id)].found_by;
    patient.findings.push_back(std::move(finding));
  }
  return patient;
}

template <class T>
void shuffle(std::vector<T>& list, RandomStream& random) {
  for (std::size_t i = list.size(); i > 1; --i) {
    std::swap(list[i - 1], list[random.below(static_cast<std::uint32_t>(i))]);
  }
}

struct Push {  // one finding on one condition
  std::string id, label, source;
  double log_odds = 0.0;
};

std::string source_in_words(const reasoning::Contribution& part) {
  if (part.standing == reasoning::Standing::kEngineering) return "teaching judgement";
  return part.standing == reasoning::Standing::kMemory ? part.source + ", from memory"
                                                       : part.source;
}

std::vector<Push> pushes_of(const reasoning::Impression& impression, std::string_view finding_id) {
  std::vector<Push> list;
  for (const auto& ranked : impression.ranking) {
    for (const auto& part : ranked.contributions) {
      if (part.finding_id != finding_id) continue;
      list.push_back({ranked.id, ranked.label, source_in_words(part), part.log_odds});
    }
  }
  phren::stable_sort(list, [](const Push& a, const Push& b) { return a.log_odds > b.log_odds; });
  return list;
}

std::string told(const Push& push) {
  return fmt::format("{}: odds × {:.1f} ({}).", push.label, std::exp(push.log_odds), push.source);
}

Error not_fair(std::string_view finding_id) {
  return {ErrorCode::kUnsupported,
          fmt::format("'{}': the evidence carries no fair question", finding_id)};
}

Result<MeaningTask> weigh_task_in(const reasoning::Knowledge& knowledge,
                                  std::string_view finding_id, const std::string& setting,
                                  RandomStream& random) {
  const auto impression =
      TRY(reasoning::weigh(patient_with(knowledge, {std::string(finding_id)}, setting), knowledge));
  const std::vector<Push> pushes = pushes_of(impression, finding_id);
  if (pushes.empty() || pushes.front().log_odds < kStandsOut) return fail(not_fair(finding_id));
  std::vector<Push> others;
  for (const Push& one : pushes) {
    if (one.log_odds <= pushes.front().log_odds - kStandsOut) others.push_back(one);
  }
  if (others.size() + 1 < kChoices) return fail(not_fair(finding_id));
  shuffle(others, random);
  others.resize(kChoices - 1);
  MeaningTask task;
  task.truth = pushes.front().id;
  task.explanation = "How the odds change when it is found. " + told(pushes.front());
  for (const Push& one : others) task.explanation += " " + told(one);
  others.push_back(pushes.front());
  for (const Push& one : others) task.choices.push_back({one.id, one.label});
  shuffle(task.choices, random);
  return task;
}

// The findings of a line, if it is made of findings that are there and nothing else.
std::vector<std::string> plain_findings(const reasoning::Knowledge& knowledge,
                                        const reasoning::Line& line) {
  std::vector<std::string> ids;
  for (const reasoning::Word& word : line) {
    if (word.is_negated || word.cut) return {};
    ids.push_back(knowledge.findings[word.finding].id);
  }
  return ids;
}

std::string story_of(const reasoning::Knowledge& knowledge, const std::vector<std::string>& ids,
                     std::string_view heard) {
  std::string words;
  for (const std::string& id : ids) {
    if (id == heard) continue;
    words +=
        (words.empty() ? "" : ", ") + knowledge.findings[*knowledge.findings.index_of(id)].label;
  }
  return words.empty() ? words : "Also found: " + words + ".";
}

}  // namespace

Result<MeaningTask> weigh_task(const reasoning::Knowledge& knowledge, std::string_view finding_id,
                               Seed seed) {
  TRY(knowledge.findings.find(finding_id));
  RandomStream random(seed, "weigh task");
  for (const char* setting : kSettings) {
    auto task = weigh_task_in(knowledge, finding_id, setting, random);
    if (task || task.error().code != ErrorCode::kUnsupported) return task;
  }
  return fail(not_fair(finding_id));
}

Result<MeaningTask> threat_task(const reasoning::Knowledge& knowledge, std::string_view finding_id,
                                Seed seed) {
  TRY(knowledge.findings.find(finding_id));
  std::vector<std::vector<std::string>> lines;
  for (const auto& rule : knowledge.threats) {
    for (const auto& line : rule.when) {
      auto ids = plain_findings(knowledge, line);
      if (std::find(ids.begin(), ids.end(), finding_id) != ids.end())
        lines.push_back(std::move(ids));
    }
  }
  if (lines.empty()) return fail(not_fair(finding_id));
  RandomStream random(seed, "threat task");
  const auto& chosen = lines[random.below(static_cast<std::uint32_t>(lines.size()))];
  const auto impression =
      TRY(reasoning::weigh(patient_with(knowledge, chosen, kSettings[0]), knowledge));
  const auto& threats = impression.threats;  // named ones first, most urgent first
  if (threats.empty() || !threats.front().is_named) return fail(not_fair(finding_id));
  std::vector<MeaningChoice> others;
  for (const auto& rule : knowledge.threats) {
    const bool is_named = std::any_of(threats.begin(), threats.end(), [&](const auto& one) {
      return one.id == rule.threat.id && one.is_named;
    });
    if (!is_named) others.push_back({rule.threat.id, rule.threat.label});
  }
  if (others.size() + 1 < kChoices) return fail(not_fair(finding_id));
  shuffle(others, random);
  others.resize(kChoices - 1);
  others.push_back({threats.front().id, threats.front().label});
  shuffle(others, random);
  MeaningTask task;
  task.story = story_of(knowledge, chosen, finding_id);
  task.truth = threats.front().id;
  task.explanation = fmt::format("{} ({}; {})", threats.front().why, threats.front().source,
                                 reasoning::standing_in_words(threats.front()));
  task.choices = std::move(others);
  return task;
}

}  // namespace phren::teaching
