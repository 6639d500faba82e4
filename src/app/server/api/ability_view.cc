#include "app/server/api/ability_view.h"

#include <algorithm>
#include <cstdlib>

#include "app/server/api/guard.h"
#include "teaching/statistics/sparse_calibration.h"

namespace phren::app::server {

using nlohmann::json;

Result<LivedTest> live_again(const records::AbilityTestRecord& record) {
  auto bank = TRY(bank_from_text(record.bank));
  teaching::AdaptiveConfig config;
  config.target_se = kTargetSe;
  config.max_items = kMostItems;
  config.random_best = 5;  // so that neighbours do not hear the same in the same order
  // A seed for each step: the same choice again, without choosing all those before it again.
  std::uint64_t seed = std::strtoull(record.seed.c_str(), nullptr, 10);
  for (const auto& item : record.items) seed += item.answered_ms > 0 ? 1 : 0;
  auto test = TRY(teaching::AdaptiveTest::make(items_of(bank), config, Seed{seed}));
  LivedTest lived{std::move(bank), std::move(test), 0};
  const std::size_t num_kinds = lived.bank.kinds.size();
  std::vector<std::size_t> asked(num_kinds, 0);
  for (const auto& item : record.items) {
    if (item.answered_ms == 0) break;
    const auto kind = static_cast<std::size_t>(item.kind);
    if (kind >= num_kinds || asked[kind] >= kMostOfAKind) {
      return fail(ErrorCode::kMalformed, "a kept ability test: an item is not of its bank");
    }
    lived.test.answer(kind + asked[kind]++ * num_kinds, item.is_right);
    lived.right += item.is_right ? 1 : 0;
  }
  return lived;
}

teaching::Estimate expected_share(const AbilityBank& bank, const teaching::Estimate& ability) {
  const auto at = [&](double value) {
    double sum = 0.0;
    for (const BankKind& one : bank.kinds) {
      const auto item = teaching::item_of_uncertain_difficulty(one.difficulty, one.se, one.guess);
      sum += teaching::probability_right(item, value);
    }
    return sum / static_cast<double>(bank.kinds.size());
  };
  teaching::Estimate share;
  share.value = at(ability.value);
  share.low = at(ability.low);
  share.high = at(ability.high);
  return share;
}

Result<json> ability_row(const records::AbilityTestRecord& record) {
  const auto lived = TRY(live_again(record));
  const bool has_ended = record.ended_ms > 0;
  const auto& kinds = lived.bank.kinds;
  const auto measured = std::count_if(kinds.begin(), kinds.end(),
                                      [](const BankKind& one) { return one.is_measured; });
  std::size_t on_measured = 0;
  for (const auto& item : record.items) {
    if (item.answered_ms > 0 && kinds[static_cast<std::size_t>(item.kind)].is_measured) {
      ++on_measured;
    }
  }
  json row{{"id", record.id},
           {"started_ms", record.started_ms},
           {"has_ended", has_ended},
           {"end_reason", record.end_reason},
           {"answered", lived.test.responses().size()},
           {"answered_of_measured", on_measured},
           {"right", nullptr},
           {"ability", nullptr},
           {"share", nullptr},
           {"bank",
            {{"kinds", kinds.size()},
             {"measured", measured},
             {"learners", lived.bank.learners},
             {"answers", lived.bank.answers}}}};
  if (has_ended && !lived.test.responses().empty()) {
    row["right"] = lived.right;
    row["ability"] = to_json(lived.test.ability());
    row["share"] = to_json(expected_share(lived.bank, lived.test.ability()));
  }
  return row;
}

}  // namespace phren::app::server
