// Passwords and secrets: argon2id hashes, tokens of which only a hash is stored, short codes to
// read out in a classroom.
//
// Source:  libsodium: argon2id at its interactive cost by default; BLAKE2b for tokens.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "base/result.h"

namespace phren::records {

struct PasswordCost {  // zero: libsodium's interactive cost (64 MiB, 2 passes)
  unsigned long long passes = 0;
  std::size_t memory_bytes = 0;
};

// kIo when there is not memory enough.
Result<std::string> hash_password(std::string_view password, const PasswordCost& cost);
bool is_password(std::string_view password, const std::string& hash);  // false for an empty hash
// Made at another cost than today's: hash it anew at the next login.
bool needs_new_hash(const std::string& hash, const PasswordCost& cost);
// 10 to 200 bytes, not one sign over and over, nor a row of them.
Status check_password(std::string_view password);

std::string new_token();                         // 256 random bits as hexadecimal digits
std::string hash_token(std::string_view token);  // what the store keeps of it

// `length` signs of 2-9 and A-Z without I, L, O and U: nothing to mistake for another.
std::string new_code(std::size_t length);
// As typed by hand: upper case, without blanks and hyphens.
std::string plain_code(std::string_view typed);

}  // namespace phren::records
