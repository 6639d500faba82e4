// JSON text from outside, refused before parsing when it is nested too deeply: printing or copying
// a parsed document takes stack for every level, so a short text of brackets could end the program.
//
// Errors:  parse_json() gives a discarded value for what is no JSON or too deep.
#pragma once

#include <string_view>

namespace phren {

// Twice what the deepest of our own formats needs (a station's plan).
inline constexpr int kDeepestJson = 16;

// True when brackets outside of strings are open more than `most` deep anywhere.
bool is_deeper_json(std::string_view text, int most = kDeepestJson);

// `Json`: nlohmann::json or its ordered sister.
template <class Json>
Json parse_json(std::string_view text, int most = kDeepestJson) {
  if (is_deeper_json(text, most)) return Json(Json::value_t::discarded);
  return Json::parse(text, nullptr, false);
}

}  // namespace phren
