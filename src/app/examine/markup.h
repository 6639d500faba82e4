// Text for HTML and SVG pages, and files inside them.
#pragma once

#include <string>
#include <string_view>

#include "base/text.h"

namespace phren::app {

inline std::string escape(std::string_view text) {
  return escape_markup(text);
}
std::string base64(std::string_view bytes);
// A number with a fixed count of decimals and a true minus sign; "-0" never appears.
std::string number(double value, int decimals = 0);

}  // namespace phren::app
