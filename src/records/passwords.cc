#include "records/passwords.h"

#include <sodium.h>

#include <array>
#include <set>

namespace phren::records {
namespace {

constexpr std::size_t kTokenBytes = 32;
constexpr std::string_view kCodeSigns = "23456789ABCDEFGHJKMNPQRSTVWXYZ";

unsigned long long passes_of(const PasswordCost& cost) {
  return cost.passes ? cost.passes : crypto_pwhash_OPSLIMIT_INTERACTIVE;
}
std::size_t memory_of(const PasswordCost& cost) {
  return cost.memory_bytes ? cost.memory_bytes : crypto_pwhash_MEMLIMIT_INTERACTIVE;
}

std::string hex(const unsigned char* bytes, std::size_t size) {
  std::string text(size * 2 + 1, '\0');
  sodium_bin2hex(text.data(), text.size(), bytes, size);
  text.pop_back();
  return text;
}

// NIST SP 800-63B-4 3.1.1.2 has repeated and sequential signs refused; how many differ is ENGINEERING.
constexpr std::size_t kLeastSigns = 5;

// Each sign the neighbour of the one before: "abcdefghij", "9876543210".
bool is_a_row(std::string_view password) {
  for (const int step : {1, -1}) {
    bool is_row = true;
    for (std::size_t i = 1; i < password.size() && is_row; ++i) {
      is_row =
          password[i] - password[i - 1] == step || (password[i] == '0' && password[i - 1] == '9');
    }
    if (is_row) return true;
  }
  return false;
}

}  // namespace

Result<std::string> hash_password(std::string_view password, const PasswordCost& cost) {
  std::array<char, crypto_pwhash_STRBYTES> hash{};
  if (crypto_pwhash_str_alg(hash.data(), password.data(), password.size(), passes_of(cost),
                            memory_of(cost), crypto_pwhash_ALG_ARGON2ID13) != 0) {
    return fail(ErrorCode::kIo, "not enough memory to keep a password safely");
  }
  return std::string(hash.data());
}

bool is_password(std::string_view password, const std::string& hash) {
  return !hash.empty() && password.size() <= 200 &&
         crypto_pwhash_str_verify(hash.c_str(), password.data(), password.size()) == 0;
}

bool needs_new_hash(const std::string& hash, const PasswordCost& cost) {
  return crypto_pwhash_str_needs_rehash(hash.c_str(), passes_of(cost), memory_of(cost)) != 0;
}

Status check_password(std::string_view password) {
  if (password.size() < 10 || password.size() > 200) {
    return fail(out_of_range("length of password", static_cast<double>(password.size()),
                             "10 to 200 bytes"));
  }
  const std::set<char> signs(password.begin(), password.end());
  if (signs.size() < kLeastSigns || is_a_row(password)) {
    return fail(ErrorCode::kInvalidArgument,
                "the password is one of those that are tried first: take some words that do not "
                "belong together");
  }
  return {};
}

std::string new_token() {
  std::array<unsigned char, kTokenBytes> bytes{};
  randombytes_buf(bytes.data(), bytes.size());
  return hex(bytes.data(), bytes.size());
}

std::string hash_token(std::string_view token) {
  std::array<unsigned char, crypto_generichash_BYTES> hash{};
  crypto_generichash(hash.data(), hash.size(), reinterpret_cast<const unsigned char*>(token.data()),
                     token.size(), nullptr, 0);
  return hex(hash.data(), hash.size());
}

std::string new_code(std::size_t length) {
  std::string code;
  for (std::size_t i = 0; i < length; ++i) {
    code += kCodeSigns[randombytes_uniform(static_cast<std::uint32_t>(kCodeSigns.size()))];
  }
  return code;
}

std::string plain_code(std::string_view typed) {
  std::string code;
  for (char c : typed) {
    if (c == ' ' || c == '-') continue;
    code += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  return code;
}

}  // namespace phren::records
