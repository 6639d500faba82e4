#include "base/utf8.h"

namespace phren {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

// Bytes of the character that `text` begins with; 0 when it begins with none.
std::size_t character_size(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned first = byte(0);
  if (first < 0x80) return 1;
  const std::size_t size = first >= 0xC2 && first < 0xE0   ? 2
                           : first >= 0xE0 && first < 0xF0 ? 3
                           : first >= 0xF0 && first < 0xF5 ? 4
                                                           : 0;
  if (size == 0 || text.size() < size) return 0;
  for (std::size_t i = 1; i < size; ++i) {
    if ((byte(i) & 0xC0u) != 0x80u) return 0;
  }
  const unsigned second = byte(1);
  const bool is_wrong = (first == 0xE0 && second < 0xA0) || (first == 0xED && second >= 0xA0) ||
                        (first == 0xF0 && second < 0x90) || (first == 0xF4 && second >= 0x90);
  return is_wrong ? 0 : size;
}

}  // namespace

bool is_utf8(std::string_view text) {
  while (!text.empty()) {
    const std::size_t size = character_size(text);
    if (size == 0) return false;
    text.remove_prefix(size);
  }
  return true;
}

std::string clean_utf8(std::string_view text, std::size_t most_bytes) {
  std::string kept;
  while (!text.empty()) {
    const std::size_t size = text[0] == '\0' ? 0 : character_size(text);
    const std::string_view next = size == 0 ? kReplacement : text.substr(0, size);
    if (kept.size() + next.size() > most_bytes) break;
    kept += next;
    text.remove_prefix(size == 0 ? 1 : size);
  }
  return kept;
}

}  // namespace phren
