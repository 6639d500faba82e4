#include "bedside/log_text.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>

#include "bedside/deed_json.h"
#include "exam/names.h"

namespace phren::bedside {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLongestLine = 16384;

constexpr std::size_t kLongestId = 64, kLongestCaseId = 200;

bool is_id(std::string_view text, std::size_t longest) {
  const auto ok = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
  };
  return !text.empty() && text.size() <= longest && std::all_of(text.begin(), text.end(), ok);
}

Result<Json> read_object(std::string_view line) {
  if (line.size() > kLongestLine) {
    return fail(out_of_range("length of the line", static_cast<double>(line.size()),
                             "at most 16384 bytes"));
  }
  // A line holds one flat object with at most one list or object inside; deeper nesting is refused
  // before it can cost anything.
  int depth = 0;
  Json json = Json::parse(
      line,
      [&depth](int at, Json::parse_event_t, Json&) {
        depth = std::max(depth, at);
        return at <= 4;
      },
      false);
  if (json.is_discarded() || !json.is_object() || depth > 4) {
    return fail(ErrorCode::kMalformed, "is not one JSON object");
  }
  return json;
}

Result<std::string> id_field(const Json& json, const char* key, std::size_t longest = kLongestId) {
  const auto found = json.find(key);
  if (found == json.end() || !found->is_string() || !is_id(found->get<std::string>(), longest)) {
    return fail(
        out_of_range(key, found == json.end() ? "missing" : found->dump(),
                     "1 to " + std::to_string(longest) + " letters, digits, - or _, in quotes"));
  }
  return found->get<std::string>();
}

Result<std::uint64_t> seed_field(const Json& json) {
  // A string, because JavaScript numbers cannot hold every 64-bit seed.
  const auto found = json.find("seed");
  const std::string text =
      found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
  const bool digits =
      !text.empty() && text.size() <= 20 &&
      std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
  std::uint64_t value = 0;
  bool fits = digits;
  for (const char c : digits ? text : std::string()) {
    const auto digit = static_cast<std::uint64_t>(c - '0');
    fits = fits && value <= (UINT64_MAX - digit) / 10;
    value = value * 10 + digit;
  }
  if (!fits) {
    return fail(out_of_range("seed", found == json.end() ? "missing" : found->dump(),
                             "a whole number below 2^64 in quotes"));
  }
  return value;
}

}  // namespace

std::string to_line(const EncounterHeader& header) {
  Json json{{"phren", "encounter"},
            {"version", header.version},
            {"encounter", header.encounter_id},
            {"case", header.case_id},
            {"seed", std::to_string(header.seed)}};
  if (!header.engine.empty()) json["engine"] = header.engine;
  if (!header.started_at.empty()) json["started_at"] = header.started_at;
  return json.dump() + "\n";
}

std::string to_line(const EncounterAction& action) {
  // Milliseconds are kept exactly: finer times mean nothing for a hand on a screen.
  Json json{{"id", action.id},
            {"t", std::round(action.time_s * 1000.0) / 1000.0},
            {"do", name_of(action.deed)}};
  write_deed(action.deed, json);
  return json.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string to_text(const EncounterLog& log) {
  std::string text = to_line(log.header);
  for (const EncounterAction& action : log.actions) text += to_line(action);
  return text;
}

Result<EncounterHeader> parse_header(std::string_view line) {
  const auto json = TRY(read_object(line));
  if (const auto kind = json.find("phren"); kind == json.end() || *kind != "encounter") {
    return fail(ErrorCode::kMalformed, "phren must be \"encounter\" on the first line");
  }
  EncounterHeader header;
  const auto version = json.find("version");
  if (version == json.end() || !version->is_number_integer() || *version != 1) {
    return fail(ErrorCode::kUnsupported, "version is " +
                                             (version == json.end() ? "missing" : version->dump()) +
                                             "; this program reads version 1");
  }
  auto id = id_field(json, "encounter");
  if (!id) return fail(id.error());
  header.encounter_id = *id;
  id = id_field(json, "case", kLongestCaseId);
  if (!id) return fail(id.error());
  header.case_id = *id;
  header.seed = TRY(seed_field(json));
  for (const auto& [key, target] :
       {std::pair{"engine", &header.engine}, std::pair{"started_at", &header.started_at}}) {
    const auto found = json.find(key);
    if (found == json.end()) continue;
    if (!found->is_string() || found->get<std::string>().size() > 64) {
      return fail(out_of_range(key, found->dump(), "text of at most 64 characters"));
    }
    *target = found->get<std::string>();
  }
  return header;
}

Result<EncounterAction> parse_action(std::string_view line) {
  const auto json = TRY(read_object(line));
  EncounterAction action;
  action.id = TRY(id_field(json, "id"));
  const auto time = json.find("t");
  if (time == json.end() || !time->is_number() || !(*time >= 0.0) || *time > kLongestEncounter_s) {
    return fail(out_of_range("t", time == json.end() ? "missing" : time->dump(),
                             "seconds between 0 and 14400"));
  }
  action.time_s = time->get<double>();
  action.deed = TRY(read_deed(json));
  return action;
}

Status check_follows(const EncounterAction& next, double last_time_s) {
  if (next.time_s >= last_time_s) return {};
  return fail(out_of_range(
      "t", next.time_s,
      "at least the time of the action before it, " + Json(last_time_s).dump() + " s"));
}

Result<ParsedLog> parse_log(std::string_view text, std::string_view file_name) {
  ParsedLog parsed;
  std::map<std::string, std::string, std::less<>> seen;
  std::size_t number = 0;
  double last_time_s = 0.0;
  bool ended = false;
  for (std::size_t at_byte = 0; at_byte < text.size();) {
    const std::size_t end = text.find('\n', at_byte);
    if (end == std::string_view::npos) {
      parsed.torn_tail = true;
      break;
    }
    const std::string_view line = text.substr(at_byte, end - at_byte);
    const std::string where = std::string(file_name) + ":" + std::to_string(++number);
    at_byte = parsed.whole_bytes = end + 1;
    if (number == 1) {
      parsed.log.header = TRY(at(where, parse_header(line)));
      continue;
    }
    auto action = TRY(at(where, parse_action(line)));
    if (const auto found = seen.find(action.id); found != seen.end()) {
      if (found->second != to_line(action)) {
        return fail(ErrorCode::kInvalidArgument,
                    where + ": id " + action.id + " was used before for another action");
      }
      ++parsed.repeated;
      continue;
    }
    if (ended) {
      return fail(ErrorCode::kInvalidArgument, where + ": stands after the action \"end\"");
    }
    TRY(at(where, check_follows(action, last_time_s)));
    if (parsed.log.actions.size() >= kMostActions) {
      return fail(ErrorCode::kUnsupported, where + ": more than 20000 actions");
    }
    last_time_s = action.time_s;
    ended = std::holds_alternative<End>(action.deed);
    seen.emplace(action.id, to_line(action));
    parsed.log.actions.push_back(std::move(action));
  }
  if (number == 0) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": holds no whole header line");
  }
  return parsed;
}

}  // namespace phren::bedside
