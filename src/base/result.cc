#include "base/result.h"

#include <algorithm>
#include <array>
#include <cstdio>
#include <vector>

namespace phren {

std::string_view to_string(ErrorCode code) {
  switch (code) {
    case ErrorCode::kInvalidArgument:
      return "invalid_argument";
    case ErrorCode::kNotFound:
      return "not_found";
    case ErrorCode::kMalformed:
      return "malformed";
    case ErrorCode::kUnsupported:
      return "unsupported";
    case ErrorCode::kConflict:
      return "conflict";
    case ErrorCode::kTooMany:
      return "too_many";
    case ErrorCode::kIo:
      return "io";
  }
  return "unknown";
}

Error out_of_range(std::string_view field, double value, std::string_view allowed) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%g", value);
  return out_of_range(field, std::string_view(text.data()), allowed);
}

Error out_of_range(std::string_view field, std::string_view value, std::string_view allowed) {
  return {ErrorCode::kInvalidArgument, std::string(field) + " is " + std::string(value) +
                                           "; it must be " + std::string(allowed)};
}

Error at(std::string_view where, Error error) {
  error.message = std::string(where) + ": " + error.message;
  return error;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t substituted = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, substituted});
    }
  }
  return row[b.size()];
}

}  // namespace phren
