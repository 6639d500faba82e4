// Small pieces of text for the reasons of marks.
#pragma once

#include <cstdio>
#include <string>
#include <vector>

#include "bedside/words.h"

namespace phren::teaching {

inline std::string seconds_text(double seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f s", seconds);
  return text;
}

// "a, b and c"
inline std::string list_text(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " and " : ", ";
    text += words[i];
  }
  return text;
}

// Finding and treatment ids as words: "fine_crackles" -> "fine crackles".
inline std::string spaced(std::string id) {
  for (char& c : id) {
    if (c == '_') c = ' ';
  }
  return id;
}

// A vital sign as one says it; its unit stays out.
inline std::string vital_in_words(const std::string& id) {
  const bedside::VitalKind* kind = bedside::vital_kind(id);
  if (kind != nullptr) return std::string(kind->label);
  return spaced(id);
}

}  // namespace phren::teaching
