#include "teaching/marking/mark_json.h"

#include <nlohmann/json.hpp>

namespace phren::teaching {
namespace {

using json = nlohmann::ordered_json;

Verdict verdict_of(const std::string& word) {
  for (const Verdict one :
       {Verdict::kMet, Verdict::kPartly, Verdict::kMissed, Verdict::kNotJudged}) {
    if (to_string(one) == word) return one;
  }
  return Verdict::kNotJudged;
}

}  // namespace

json mark_json(const ItemMark& item) {
  return {{"id", item.item_id},
          {"text", item.text},
          {"verdict", to_string(item.verdict)},
          {"points", item.points},
          {"max_points", item.max_points},
          {"critical", item.critical},
          {"reason", item.reason},
          {"action_ids", item.action_ids}};
}

json mark_json(const MarkSheet& sheet) {
  json items = json::array();
  for (const ItemMark& item : sheet.items) items.push_back(mark_json(item));
  return {{"checklist_id", sheet.checklist_id},
          {"items", std::move(items)},
          {"points", sheet.points},
          {"max_points", sheet.max_points},
          {"critical_missed", sheet.critical_missed},
          {"over_time", sheet.over_time},
          {"passed", sheet.passed}};
}

Result<MarkSheet> mark_sheet_from_json(const json& body) {
  try {
    MarkSheet sheet;
    sheet.checklist_id = body.at("checklist_id");
    for (const json& one : body.at("items")) {
      sheet.items.push_back({one.at("id"), one.at("text"),
                             verdict_of(one.at("verdict").get<std::string>()), one.at("points"),
                             one.at("max_points"), one.at("critical"), one.at("reason"),
                             one.at("action_ids").get<std::vector<std::string>>()});
    }
    sheet.points = body.at("points");
    sheet.max_points = body.at("max_points");
    sheet.critical_missed = body.at("critical_missed").get<std::vector<std::string>>();
    sheet.over_time = body.at("over_time");
    sheet.passed = body.at("passed");
    return sheet;
  } catch (const json::exception& error) {
    return fail(ErrorCode::kMalformed, std::string("a kept mark sheet: ") + error.what());
  }
}

}  // namespace phren::teaching
