#include "app/server/api/ability_view.h"

#include <algorithm>
#include <cstdlib>

#include "app/server/api/guard.h"
#include "base/json_fields.h"

namespace phren::app::server {

using nlohmann::json;

namespace {

// Banks that version 0.1 kept are lists of values without names.
Result<teaching::AbilityBank> bank_of(const std::string& text) {
  json body = parse_json<json>(text);
  if (body.is_object() && body.contains("kinds") && body["kinds"].is_array()) {
    for (json& one : body["kinds"]) {
      if (!one.is_array() || one.size() != 6) continue;
      one = json{{"mode", one[0]}, {"skill", one[1]}, {"difficulty", one[2]},
                 {"se", one[3]},   {"guess", one[4]}, {"is_measured", one[5]}};
    }
  }
  return read_record<teaching::AbilityBank>(body, "a kept bank of items");
}

}  // namespace

Result<teaching::LivedTest> live_again(const records::AbilityTestRecord& record) {
  std::vector<teaching::GivenItem> answered;
  for (const auto& item : record.items) {
    if (item.answered_ms == 0) break;
    answered.push_back({static_cast<std::size_t>(item.kind), item.is_right});
  }
  return teaching::live_again(TRY(bank_of(record.bank)),
                              std::strtoull(record.seed.c_str(), nullptr, 10), answered);
}

Result<json> ability_row(const records::AbilityTestRecord& record) {
  const auto lived = TRY(live_again(record));
  const bool has_ended = record.ended_ms > 0;
  const auto& kinds = lived.bank.kinds;
  const auto measured =
      std::count_if(kinds.begin(), kinds.end(), [](const auto& one) { return one.is_measured; });
  json row{{"id", record.id},
           {"started_ms", record.started_ms},
           {"has_ended", has_ended},
           {"end_reason", record.end_reason},
           {"answered", lived.test.responses().size()},
           {"answered_of_measured", lived.on_measured},
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
    row["share"] = to_json(teaching::expected_share(lived.bank, lived.test.ability()));
  }
  return row;
}

}  // namespace phren::app::server
