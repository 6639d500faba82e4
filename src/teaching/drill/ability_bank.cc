#include "teaching/drill/ability_bank.h"

#include <map>

#include "teaching/statistics/sparse_calibration.h"

namespace phren::teaching {
namespace {

constexpr double kPriorDifficulty = 0.0, kPriorSd = 1.0;

}  // namespace

void describe(Fields& f, BankKind& kind) {
  f.text("mode", kind.mode, true);
  f.text("skill", kind.skill, true);
  f.number("difficulty", kind.difficulty, -100.0, 100.0);
  f.number("se", kind.se, 0.0, 100.0);
  f.number("guess", kind.guess, 0.0, 1.0);
  f.flag("is_measured", kind.is_measured);
}

void describe(Fields& f, AbilityBank& bank) {
  f.rows("kinds", bank.kinds, true);
  f.whole("learners", bank.learners, 0.0, 1e9);
  f.whole("answers", bank.answers, 0.0, 1e12);
}

Result<AbilityBank> make_bank(const DrillBook& book, const std::vector<AnswerTally>& tallies) {
  AbilityBank bank;
  std::vector<ItemPrior> items;
  std::map<std::pair<std::string, std::string>, std::size_t> kind_of;
  for (const char* id : kTestKinds) {
    const DrillKind& kind = *find_drill_kind(id);
    const double guess = 1.0 / static_cast<double>(kind.num_choices(book));
    for (const std::size_t skill : skills_of(book, kind)) {
      kind_of[{id, book.library->skills[skill].id}] = bank.kinds.size();
      bank.kinds.push_back(
          {id, book.library->skills[skill].id, kPriorDifficulty, kPriorSd, guess, false});
      items.push_back({guess, kPriorDifficulty, kPriorSd});
    }
  }
  std::vector<AnswerCount> counts;
  std::map<std::string, std::size_t> persons;
  for (const AnswerTally& one : tallies) {
    const auto kind = kind_of.find({one.mode, one.skill});
    if (kind == kind_of.end() || one.answers <= 0) continue;
    const std::size_t person = persons.emplace(one.person_id, persons.size()).first->second;
    counts.push_back(
        {person, kind->second, static_cast<double>(one.answers), static_cast<double>(one.right)});
  }
  if (persons.size() < kLeastLearners) return bank;
  const auto fit = TRY(calibrate_sparse(counts, items));
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

std::vector<Item> items_of(const AbilityBank& bank) {
  std::vector<Item> items;
  for (std::size_t copy = 0; copy < kMostOfAKind; ++copy) {
    for (const BankKind& one : bank.kinds) {
      items.push_back(item_of_uncertain_difficulty(one.difficulty, one.se, one.guess));
    }
  }
  return items;
}

Result<LivedTest> live_again(AbilityBank bank, std::uint64_t seed,
                             const std::vector<GivenItem>& answered) {
  AdaptiveConfig config;
  config.target_se = kTargetSe;
  config.max_items = kMostItems;
  config.random_best = 5;  // so that neighbours do not hear the same in the same order
  // A seed for each step: the same choice again, without choosing all those before it again.
  auto test = TRY(AdaptiveTest::make(items_of(bank), config, Seed{seed + answered.size()}));
  LivedTest lived{std::move(bank), std::move(test)};
  const std::size_t num_kinds = lived.bank.kinds.size();
  std::vector<std::size_t> asked(num_kinds, 0);
  for (const GivenItem& item : answered) {
    if (item.kind >= num_kinds || asked[item.kind] >= kMostOfAKind) {
      return fail(ErrorCode::kMalformed, "a kept ability test: an item is not of its bank");
    }
    lived.test.answer(item.kind + asked[item.kind]++ * num_kinds, item.is_right);
    lived.right += item.is_right ? 1 : 0;
    lived.on_measured += lived.bank.kinds[item.kind].is_measured ? 1 : 0;
  }
  return lived;
}

Estimate expected_share(const AbilityBank& bank, const Estimate& ability) {
  const auto at = [&](double value) {
    double sum = 0.0;
    for (const BankKind& one : bank.kinds) {
      const auto item = item_of_uncertain_difficulty(one.difficulty, one.se, one.guess);
      sum += probability_right(item, value);
    }
    return sum / static_cast<double>(bank.kinds.size());
  };
  Estimate share;
  share.value = at(ability.value);
  share.low = at(ability.low);
  share.high = at(ability.high);
  return share;
}

}  // namespace phren::teaching
