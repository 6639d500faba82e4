#include "base/text.h"

#include <array>
#include <cstdio>

namespace phren {

std::string number_text(double value, int decimals) {
  std::array<char, 400> text{};  // the largest double has 309 digits
  std::snprintf(text.data(), text.size(), "%.*f", decimals, value);
  const std::string_view seen = text.data();
  const bool is_zero = seen.find_first_not_of("-0.") == std::string_view::npos;
  return std::string(is_zero && seen.front() == '-' ? seen.substr(1) : seen);
}

std::string short_number(double value) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%g", value);
  return text.data();
}

std::string escape_markup(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

}  // namespace phren
