#include "teaching/marking/checklist_json.h"

#include <nlohmann/json.hpp>

#include "base/json_text.h"
#include "exam/names.h"

namespace phren::teaching {
namespace {

using Json = nlohmann::ordered_json;

Json to_json(const ChecklistItem& item) {
  Json out{{"id", item.id},         {"text", item.text},         {"rule", to_string(item.rule)},
           {"points", item.points}, {"critical", item.critical}, {"why", item.why}};
  const auto list = [&](const char* key, const std::vector<std::string>& words) {
    if (!words.empty()) out[key] = words;
  };
  list("sites", item.sites);
  list("findings", item.findings);
  list("vitals", item.vitals);
  list("treatments", item.treatments);
  list("postures", item.postures);
  list("conditions", item.conditions);
  for (const exam::Side side : item.sides) out["sides"].push_back(exam::to_string(side));
  const ChecklistItem usual;
  if (item.presence != usual.presence) out["presence"] = exam::to_string(item.presence);
  if (item.least_s != usual.least_s) out["least_s"] = item.least_s;
  if (item.within_s != usual.within_s) out["within_s"] = item.within_s;
  if (item.share != usual.share) out["share"] = item.share;
  if (item.count != usual.count) out["count"] = item.count;
  return out;
}

// One field as TOML: JSON's texts, numbers, truths and flat lists are TOML's as well.
Status add_field(const std::string& key, const Json& value, std::string& toml) {
  const bool is_plain =
      value.is_string() || value.is_number() || value.is_boolean() || value.is_array();
  if (!is_plain || key.find_first_not_of("abcdefghijklmnopqrstuvwxyz_") != std::string::npos) {
    return fail(ErrorCode::kMalformed,
                "checklist: field '" + key + "' is not one of docs/formats/checklist.md");
  }
  if (value.is_array()) {
    for (const Json& one : value) {
      if (!one.is_string()) {
        return fail(ErrorCode::kMalformed, "checklist: " + key + " must be a list of texts");
      }
    }
  }
  toml += key + " = " + value.dump(-1, ' ', true) + "\n";
  return {};
}

}  // namespace

std::string to_json_text(const Checklist& checklist) {
  Json out{{"id", checklist.id},
           {"title", checklist.title},
           {"status", checklist.status},
           {"time_limit_s", checklist.time_limit_s},
           {"pass_share", checklist.pass_share},
           {"items", Json::array()}};
  for (const ChecklistItem& item : checklist.items) out["items"].push_back(to_json(item));
  return out.dump();
}

Result<Checklist> checklist_from_json(std::string_view text) {
  const Json json = parse_json<Json>(text);
  if (!json.is_object() || !json.contains("items") || !json["items"].is_array()) {
    return fail(ErrorCode::kMalformed, "checklist: must be an object with a list of items");
  }
  const std::string id = json.contains("id") && json["id"].is_string()
                             ? json["id"].get<std::string>()
                             : std::string("checklist");
  if (id.empty() || id.size() > 64 ||
      id.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") !=
          std::string::npos) {
    return fail(out_of_range("checklist id", "'" + id + "'", "1 to 64 letters, digits, - or _"));
  }
  std::string toml;
  for (const auto& [key, value] : json.items()) {
    if (key == "items" || key == "id") continue;
    TRY(add_field(key, value, toml));
  }
  for (const Json& item : json["items"]) {
    toml += "[[item]]\n";
    if (!item.is_object()) return fail(ErrorCode::kMalformed, "checklist: an item is no object");
    for (const auto& [key, value] : item.items()) {
      TRY(add_field(key, value, toml));
    }
  }
  return parse_checklist(toml, id + ".toml");
}

}  // namespace phren::teaching
