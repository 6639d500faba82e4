#include "records/handover/xapi.h"

#include <sodium.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>

namespace phren::records {
namespace {

using Json = nlohmann::ordered_json;

std::string duration_text(double seconds) {
  char text[48];
  std::snprintf(text, sizeof text, "PT%.2fS", std::max(0.0, seconds));
  return text;
}

// scaled is left out when nothing could be scored: 0 / 0 is no score.
Json score_of(double points, double max_points) {
  return {{"scaled", points / max_points}, {"raw", points}, {"min", 0}, {"max", max_points}};
}

Json statement(const XapiContext& c, const std::string& part, const char* verb,
               const std::string& object_id, const std::string& name, Json result) {
  return {
      {"id", uuid_of(c.encounter_id + "/" + part)},
      {"actor",
       {{"objectType", "Agent"},
        {"account", {{"homePage", c.home_page}, {"name", c.account_name}}}}},
      {"verb",
       {{"id", std::string("http://adlnet.gov/expapi/verbs/") + verb},
        {"display", {{"en", verb}}}}},
      {"object",
       {{"objectType", "Activity"},
        {"id", object_id},
        {"definition",
         {{"name", {{"en", name}}}, {"type", "http://adlnet.gov/expapi/activities/assessment"}}}}},
      {"result", std::move(result)},
      {"context", {{"registration", uuid_of(c.encounter_id)}}},
      {"timestamp", c.timestamp}};
}

}  // namespace

std::string uuid_of(const std::string& text) {
  std::array<unsigned char, 16> bytes{};
  crypto_generichash(bytes.data(), bytes.size(),
                     reinterpret_cast<const unsigned char*>(text.data()), text.size(), nullptr, 0);
  bytes[6] = static_cast<unsigned char>((bytes[6] & 0x0f) | 0x80);
  bytes[8] = static_cast<unsigned char>((bytes[8] & 0x3f) | 0x80);
  std::array<char, 33> hex{};
  sodium_bin2hex(hex.data(), hex.size(), bytes.data(), bytes.size());
  std::string uuid(hex.data());
  for (const std::size_t dash : {8u, 13u, 18u, 23u}) uuid.insert(dash, "-");
  return uuid;
}

Result<std::string> xapi_statements(const teaching::MarkSheet& sheet, const XapiContext& c) {
  if (!c.home_page.starts_with("http")) {
    return fail(out_of_range("home_page", "'" + c.home_page + "'", "an http or https address"));
  }
  if (c.account_name.empty() || c.account_name.find('@') != std::string::npos) {
    return fail(out_of_range("account_name", "'" + c.account_name + "'",
                             "a pseudonym, not empty and not an e-mail address"));
  }
  if (c.timestamp.size() < 20 || c.timestamp.back() != 'Z') {
    return fail(out_of_range("timestamp", "'" + c.timestamp + "'",
                             "ISO 8601 in UTC, such as 2026-11-25T08:00:00Z"));
  }
  const std::string base = c.home_page + "/phren/checklists/" + sheet.checklist_id;
  Json all = Json::array();
  Json whole{
      {"success", sheet.passed}, {"completion", true}, {"duration", duration_text(c.duration_s)}};
  if (sheet.max_points > 0.0) whole["score"] = score_of(sheet.points, sheet.max_points);
  all.push_back(statement(c, "whole", "completed", base, sheet.checklist_id, std::move(whole)));
  for (const teaching::ItemMark& item : sheet.items) {
    if (item.verdict == teaching::Verdict::kNotJudged) continue;
    Json result{{"success", item.verdict == teaching::Verdict::kMet},
                {"completion", true},
                {"response", item.reason}};
    if (item.max_points > 0.0) result["score"] = score_of(item.points, item.max_points);
    all.push_back(statement(c, item.item_id, "answered", base + "/" + item.item_id, item.text,
                            std::move(result)));
  }
  return all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace phren::records
