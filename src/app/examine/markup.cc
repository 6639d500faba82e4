#include "app/examine/markup.h"

#include "base/text.h"

namespace phren::app {

std::string base64(std::string_view bytes) {
  static constexpr std::string_view kLetters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    unsigned group = 0;
    for (std::size_t j = 0; j < 3; ++j) {
      group = group << 8 | (i + j < bytes.size() ? static_cast<unsigned char>(bytes[i + j]) : 0u);
    }
    for (std::size_t j = 0; j < 4; ++j) {
      const bool is_padding = i + j > bytes.size();
      out += is_padding ? '=' : kLetters[group >> (18 - 6 * j) & 63u];
    }
  }
  return out;
}

std::string number(double value, int decimals) {
  std::string text = number_text(value, decimals);
  if (text.front() == '-') text.replace(0, 1, "\u2212");
  return text;
}

}  // namespace phren::app
