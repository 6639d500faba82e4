// Label text as audio editors exchange it: one label a line, "start <tab> end <tab> text", seconds.
//
// Errors:  parse_labels gives kMalformed naming the line and what a line should be.
// Limits:  continuation lines that start with a backslash (frequency ranges) are skipped.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::signal {

struct Label {
  double start_s = 0.0;
  double end_s = 0.0;
  std::string text;  // no tabs or line breaks; format_labels turns them into spaces
};

std::string format_labels(const std::vector<Label>& labels);  // six decimals
Result<std::vector<Label>> parse_labels(std::string_view text);

}  // namespace phren::signal
