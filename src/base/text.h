// Numbers and markup as text, for people and for files.
#pragma once

#include <string>
#include <string_view>

namespace phren {

// A fixed count of decimals; "-0" never appears.
std::string number_text(double value, int decimals);
// As few digits as tell it (six at most): "0.5", "14400".
std::string short_number(double value);
// For element content and quoted attributes of HTML and SVG.
std::string escape_markup(std::string_view text);

}  // namespace phren
