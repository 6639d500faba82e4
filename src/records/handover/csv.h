// Tables as CSV that a spreadsheet opens without running anything in them.
//
// Shapes:  rows of cells; the first row is the header.
// Errors:  parse_csv names line and column of what is wrong.
// Source:  RFC 4180 (from memory): CRLF, quotes doubled. A cell that begins with = + - @ tab or
//          return gets a leading apostrophe, unless it is a plain number.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "teaching/marking/mark.h"

namespace phren::records {

using CsvRows = std::vector<std::vector<std::string>>;

std::string to_csv(const CsvRows& rows);
// Whether a spreadsheet could take the text for a formula; to_csv() writes it so that it is none.
bool could_run_in_spreadsheet(std::string_view text);
// Undoes to_csv, the apostrophe included; also reads plain LF and a byte-order mark.
Result<CsvRows> parse_csv(std::string_view text);

struct MarkedLearner {
  std::string learner;  // as the class roll calls them
  teaching::MarkSheet sheet;
};
// One row per learner and item, with verdict, points and reason.
std::string marks_csv(const std::vector<MarkedLearner>& marked);

struct RosterEntry {
  std::string login;
  std::string name;
  double extra_time_share = 0.0;  // 0.25 = a quarter more time
};
inline constexpr std::size_t kMostRosterRows = 2000;  // of people
// Columns login, name and, if wanted, extra_time_percent (0..300), in any order.
Result<std::vector<RosterEntry>> parse_roster(std::string_view text);

}  // namespace phren::records
