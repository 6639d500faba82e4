// Values that pages get as JSON: their fields are told once, by describe(); writing them, and the pages'
// types for them, follow from there. For .cc files only: the JSON library is slow to compile.
//
// Shapes:  describe(visitor, value) calls visitor(name, field) for each field, in order. A described
//          type has a `kTypeName`, and so has each enumeration with words.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/words.h"

namespace phren::bedside {

using Json = nlohmann::ordered_json;

template <class T>
concept Worded = std::is_enum_v<T> && (std::size(kWords<T>) > 0);

inline Json json_of(double value) {
  return value;
}
inline Json json_of(int value) {
  return value;
}
inline Json json_of(bool value) {
  return value;
}
inline Json json_of(const std::string& value) {
  return value;
}
template <Worded E>
Json json_of(E value) {
  return word_of(value);
}
template <class T>
Json json_of(const std::optional<T>& value);
template <class T>
Json json_of(const std::vector<T>& list);
template <class T>
  requires requires { T::kTypeName; }
Json json_of(const T& value) {
  Json out = Json::object();
  T copy = value;
  const auto write = [&](const char* name, const auto& field) { out[name] = json_of(field); };
  describe(write, copy);
  return out;
}
template <class T>
Json json_of(const std::optional<T>& value) {
  return value ? json_of(*value) : Json(nullptr);
}
template <class T>
Json json_of(const std::vector<T>& list) {
  Json out = Json::array();
  for (const T& one : list) out.push_back(json_of(one));
  return out;
}

}  // namespace phren::bedside
