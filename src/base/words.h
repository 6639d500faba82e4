// Enumerations and the words for them, told once: files, logs, messages and the pages' TypeScript all
// read these tables.
//
// Shapes:  kWords<E> lists the values of E in their order. A room gives it for its own enumerations.
// Errors:  read_word() gives kInvalidArgument naming the field, the word and the words allowed.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <utility>

#include "base/result.h"

namespace phren {

template <class E>
using Word = std::pair<E, std::string_view>;

template <class E>
inline constexpr std::array<Word<E>, 0> kWords{};

template <class E, std::size_t N>
constexpr std::string_view word_in(const std::array<Word<E>, N>& words, E value) {
  for (const auto& [key, word] : words) {
    if (key == value) return word;
  }
  return "unknown";
}
template <class E>
constexpr std::string_view word_of(E value) {
  return word_in(kWords<E>, value);
}

template <class E>
Result<E> read_word(std::string_view field, std::string_view text) {
  std::string allowed = "one of ";
  for (const auto& [key, word] : kWords<E>) {
    if (word == text) return key;
    if (allowed.size() > 7) allowed += ", ";
    allowed += word;
  }
  return fail(out_of_range(field, "'" + std::string(text) + "'", allowed));
}

}  // namespace phren
