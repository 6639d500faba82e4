// The encounter log as text: JSON Lines, one header line and one line per action.
//
// Errors:  kMalformed or kInvalidArgument naming line, field, value and what is allowed. A last
// line
//          without its line break is what a crash leaves behind: it is left out and reported, not
//          an error.
// Format:  docs/formats/encounter.md.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "bedside/log.h"

namespace phren::bedside {

std::string to_line(const EncounterHeader& header);  // with the line break
std::string to_line(const EncounterAction& action);
std::string to_text(const EncounterLog& log);

struct ParsedLog {
  EncounterLog log;
  std::size_t whole_bytes = 0;  // length of the text up to the last whole line
  bool torn_tail = false;       // something stood behind it
  std::size_t repeated = 0;     // lines that repeat an action word for word; kept once
};
Result<ParsedLog> parse_log(std::string_view text, std::string_view file_name);

Result<EncounterHeader> parse_header(std::string_view line);
Result<EncounterAction> parse_action(std::string_view line);

// Whether `next` may follow `last_time_s`; used by those who append.
Status check_follows(const EncounterAction& next, double last_time_s);

std::string_view name_of(const Deed& deed);  // "place", "treat", ...

}  // namespace phren::bedside
