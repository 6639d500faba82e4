#include "base/fields.h"

#include "base/text.h"

namespace phren {

std::string Fields::between(double low, double high) {
  return "a number between " + short_number(low) + " and " + short_number(high);
}

std::string Fields::listed(const std::vector<std::string_view>& words) {
  std::string list;
  for (const auto word : words) {
    list += (list.empty() ? "one of " : ", ") +
            (word.empty() ? std::string("(empty)") : std::string(word));
  }
  return list;
}

}  // namespace phren
