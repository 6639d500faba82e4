// Text that comes from outside: is it UTF-8, and how to make and cut it so that it is.
//
// Source:  RFC 3629: no overlong forms, no surrogates, nothing above U+10FFFF.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace phren {

bool is_utf8(std::string_view text);
// Bytes that are not UTF-8, and NUL, become U+FFFD; at most `most_bytes` are kept, in whole
// characters.
std::string clean_utf8(std::string_view text, std::size_t most_bytes);

}  // namespace phren
