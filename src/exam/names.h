// Names of the exam room's values, as written in files and shown to people.
//
// Errors: parse_* give kInvalidArgument naming the word and the words allowed.
#pragma once

#include <string_view>

#include "base/result.h"
#include "exam/types.h"

namespace phren::exam {

std::string_view to_string(Lobe value);      // "rul"
std::string_view to_string(Side value);      // "right"
std::string_view to_string(Aspect value);    // "front"
std::string_view to_string(Phase value);     // "inspiration"
std::string_view to_string(Sound value);     // "fine_crackle"
std::string_view to_string(Presence value);  // "present"
std::string_view to_string(Basis value);     // "heard"

std::string_view label_of(Lobe value);   // "right upper lobe"
std::string_view label_of(Sound value);  // "fine crackle"

Result<Lobe> parse_lobe(std::string_view text);
Result<Side> parse_side(std::string_view text);
Result<Aspect> parse_aspect(std::string_view text);
Result<Phase> parse_phase(std::string_view text);
Result<Sound> parse_sound(std::string_view text);
Result<Presence> parse_presence(std::string_view text);
Result<Basis> parse_basis(std::string_view text);

}  // namespace phren::exam
