#include "app/server/api/ability_bank.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "app/server/api/drill_items.h"
#include "app/server/api/learner_view.h"
#include "teaching/statistics/sparse_calibration.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

constexpr double kPriorDifficulty = 0.0, kPriorSd = 1.0;

}  // namespace

Result<AbilityBank> make_bank(const Office& office,
                              const std::vector<records::AnswerTally>& tallies) {
  AbilityBank bank;
  std::vector<teaching::ItemPrior> items;
  std::map<std::pair<std::string, std::string>, std::size_t> kind_of;
  for (const std::string mode : kTestModes) {
    const auto num_choices = static_cast<double>(choices_of(office, mode, {}).size());
    for (const std::size_t skill : skills_of_mode(office, mode)) {
      kind_of[{mode, office.skills[skill].id}] = bank.kinds.size();
      bank.kinds.push_back(
          {mode, office.skills[skill].id, kPriorDifficulty, kPriorSd, 1.0 / num_choices, false});
      items.push_back({1.0 / num_choices, kPriorDifficulty, kPriorSd});
    }
  }
  std::vector<teaching::AnswerCount> counts;
  std::map<std::string, std::size_t> persons;
  for (const auto& one : tallies) {
    const auto kind = kind_of.find({one.mode, one.skill});
    if (kind == kind_of.end() || one.answers <= 0) continue;
    const std::size_t person = persons.emplace(one.person_id, persons.size()).first->second;
    counts.push_back(
        {person, kind->second, static_cast<double>(one.answers), static_cast<double>(one.right)});
  }
  if (persons.size() < kLeastLearners) return bank;
  const auto fit = TRY(teaching::calibrate_sparse(counts, items));
  bank.learners = persons.size();
  for (std::size_t k = 0; k < bank.kinds.size(); ++k) {
    const auto& one = fit[k];
    if (one.persons < kLeastLearners || one.answers < kLeastAnswers) continue;
    bank.kinds[k].difficulty = one.difficulty.value;
    bank.kinds[k].se = one.difficulty.se;
    bank.kinds[k].is_measured = true;
    bank.answers += static_cast<long long>(one.answers);
  }
  if (bank.answers == 0) bank.learners = 0;
  return bank;
}

std::string bank_text(const AbilityBank& bank) {
  json kinds = json::array();
  for (const BankKind& one : bank.kinds) {
    kinds.push_back({one.mode, one.skill, one.difficulty, one.se, one.guess, one.is_measured});
  }
  return json{{"kinds", std::move(kinds)}, {"learners", bank.learners}, {"answers", bank.answers}}
      .dump();
}

Result<AbilityBank> bank_from_text(const std::string& text) {
  try {
    const json body = json::parse(text);
    AbilityBank bank;
    bank.learners = body.at("learners");
    bank.answers = body.at("answers");
    for (const json& one : body.at("kinds")) {
      bank.kinds.push_back({one.at(0), one.at(1), one.at(2), one.at(3), one.at(4), one.at(5)});
    }
    return bank;
  } catch (const json::exception& error) {
    return fail(ErrorCode::kMalformed, std::string("a kept bank of items: ") + error.what());
  }
}

std::vector<teaching::Item> items_of(const AbilityBank& bank) {
  std::vector<teaching::Item> items;
  for (std::size_t copy = 0; copy < kMostOfAKind; ++copy) {
    for (const BankKind& one : bank.kinds) {
      items.push_back(teaching::item_of_uncertain_difficulty(one.difficulty, one.se, one.guess));
    }
  }
  return items;
}

Result<AbilityBank> BankShelf::get(const Office& office, records::AbilityTests& tests,
                                   const std::vector<std::string>& class_ids, std::int64_t now_ms) {
  const std::lock_guard lock(mutex_);
  if (kept_.size() > 1000) kept_.clear();
  Kept& kept = kept_[class_ids];
  if (kept.made_ms > 0 && now_ms - kept.made_ms < kFresh_ms) return kept.bank;
  const auto tallies = TRY(tests.tallies(class_ids));
  auto made = TRY(make_bank(office, tallies));
  kept = {std::move(made), now_ms};
  return kept.bank;
}

}  // namespace phren::app::server
