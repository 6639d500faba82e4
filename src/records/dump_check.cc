#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/json_text.h"
#include "records/dump.h"
#include "records/dump_end.h"
#include "records/migrations.h"

namespace phren::records {
namespace {

using Json = nlohmann::ordered_json;

constexpr int kFirstWithEnd = 6;

Result<int> version_of(std::string_view line) {
  const Json header = parse_json<Json>(line);
  const bool is_dump = header.is_object() && header.contains("phren") &&
                       header["phren"] == "dump" && header.contains("version") &&
                       header["version"].is_number_integer();
  const long long version = is_dump ? header["version"].get<long long>() : 0;
  if (version >= 2 && version <= newest_version()) return static_cast<int>(version);
  return fail(ErrorCode::kUnsupported, "line 1: must be the header of a dump of version 2 to " +
                                           std::to_string(newest_version()));
}

bool is_end(const Json& line) {
  return line.contains("phren") && line["phren"] == "end";
}

Error cut(std::size_t number) {
  return {
      ErrorCode::kMalformed,
      "line " + std::to_string(number) +
          ": the dump is cut short: its last line, with the number of rows and the checksum, is "
          "missing; take another copy"};
}

}  // namespace

std::string end_of_dump(std::string_view before) {
  const auto lines = std::count(before.begin(), before.end(), '\n');
  return Json{{"phren", "end"}, {"rows", lines - 1}, {"blake2b", hash_text(before)}}.dump() + "\n";
}

Result<DumpFacts> check_dump(std::string_view text) {
  DumpFacts facts;
  std::size_t number = 0;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = text.find('\n', start);
    const std::string where = "line " + std::to_string(++number);
    if (end == std::string_view::npos) {
      return fail(ErrorCode::kMalformed, where + ": the file ends in the middle of a line");
    }
    const std::string_view line = text.substr(start, end - start);
    if (number == 1) {
      const auto version = version_of(line);
      if (!version) return fail(version.error());
      facts.version = *version;
    } else {
      const Json json = parse_json<Json>(line);
      if (!json.is_object()) {
        return fail(ErrorCode::kMalformed, where + ": is not one JSON object");
      }
      facts.has_end = is_end(json);
      if (facts.has_end) {
        if (std::string(line) + "\n" != end_of_dump(text.substr(0, start))) {
          return fail(ErrorCode::kMalformed,
                      where +
                          ": number of rows or checksum do not fit: a line is missing or was "
                          "changed; take another copy");
        }
        if (end + 1 < text.size()) {
          return fail(ErrorCode::kMalformed, where + ": the dump goes on after its end");
        }
      } else {
        ++facts.rows;
        if (json.contains("table") && json["table"] == "audit" && json.contains("position") &&
            json.contains("chain") && json["position"].is_number_integer() &&
            json["chain"].is_string() &&
            json["position"].get<long long>() > facts.audit_head.position) {
          facts.audit_head = {json["position"].get<long long>(), json["chain"].get<std::string>()};
        }
      }
    }
    start = end + 1;
  }
  if (number == 0) return fail(ErrorCode::kMalformed, "line 1: the header is missing");
  if (!facts.has_end && facts.version >= kFirstWithEnd) return fail(cut(number + 1));
  return facts;
}

}  // namespace phren::records
