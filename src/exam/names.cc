#include "exam/names.h"

#include "exam/words.h"

namespace phren::exam {

std::string_view to_string(Lobe value) {
  return word_of(value);
}
std::string_view to_string(Side value) {
  return word_of(value);
}
std::string_view to_string(Aspect value) {
  return word_of(value);
}
std::string_view to_string(Phase value) {
  return word_of(value);
}
std::string_view to_string(Sound value) {
  return word_of(value);
}
std::string_view to_string(Presence value) {
  return word_of(value);
}
std::string_view to_string(Basis value) {
  return word_of(value);
}
std::string_view label_of(Lobe value) {
  return word_in(kLobeLabels, value);
}
std::string_view label_of(Sound value) {
  return word_in(kSoundLabels, value);
}

Result<Lobe> parse_lobe(std::string_view text) {
  return read_word<Lobe>("lobe", text);
}
Result<Side> parse_side(std::string_view text) {
  return read_word<Side>("side", text);
}
Result<Aspect> parse_aspect(std::string_view text) {
  return read_word<Aspect>("aspect", text);
}
Result<Phase> parse_phase(std::string_view text) {
  return read_word<Phase>("phase", text);
}
Result<Sound> parse_sound(std::string_view text) {
  return read_word<Sound>("sound", text);
}
Result<Presence> parse_presence(std::string_view text) {
  return read_word<Presence>("presence", text);
}
Result<Basis> parse_basis(std::string_view text) {
  return read_word<Basis>("basis", text);
}

}  // namespace phren::exam
