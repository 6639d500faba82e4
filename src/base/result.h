// What a fallible call returns: a value, or an error a person can act on.
//
// Errors:  every message names what is wrong, where (file, line or field), the value seen, and what
//          would be right. Programmer errors are asserts, never Results.
#pragma once

#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <type_traits>
#include <utility>

namespace phren {

enum class ErrorCode {
  kInvalidArgument,  // a value outside its allowed range, an unknown name
  kNotFound,         // a file, site, case or condition that is not there
  kMalformed,        // text or audio that cannot be read as what it should be
  kUnsupported,      // well formed, but something Phren does not do
  kConflict,         // right in itself, but not as things stand: released, over, already taken
  kTooMany,          // a limit on how many or how often is reached
  kIo,               // the operating system refused
};

// The lower-case word for a code, as used in JSON ("invalid_argument", ...).
std::string_view to_string(ErrorCode code);

struct Error {
  ErrorCode code = ErrorCode::kInvalidArgument;
  std::string message;
};

template <class T>
using Result = tl::expected<T, Error>;
using Status = Result<void>;

inline tl::unexpected<Error> fail(ErrorCode code, std::string message) {
  return tl::unexpected<Error>(Error{code, std::move(message)});
}
inline tl::unexpected<Error> fail(Error error) {
  return tl::unexpected<Error>(std::move(error));
}

// "FIELD is VALUE; it must be ALLOWED", for example field "severity", allowed "between 0 and 1".
Error out_of_range(std::string_view field, double value, std::string_view allowed);
Error out_of_range(std::string_view field, std::string_view value, std::string_view allowed);

// The same error with "WHERE: " put before its message, for example a file name.
Error at(std::string_view where, Error error);

// The same for a fallible call: TRY(at(file_name, parse(text))).
template <class T>
Result<T> at(std::string_view where, Result<T> result) {
  if (!result) return fail(at(where, std::move(result).error()));
  return result;
}

namespace detail {
template <class R>
auto value_of(R&& result) {
  if constexpr (!std::is_void_v<typename std::decay_t<R>::value_type>)
    return *std::forward<R>(result);
}
}  // namespace detail

// The value of a fallible call; where it fails, the function around it returns the error:
//   const auto text = TRY(read_file(path));
// An expression in braces that may return is an extension of g++ and clang; -Wshadow is quiet about
// a TRY inside a TRY.
// clang-format off
#define TRY(...)                                                                             \
  ({                                                                                         \
    _Pragma("GCC diagnostic push")                                                           \
    _Pragma("GCC diagnostic ignored \"-Wshadow\"")                                           \
    auto&& tried_result = (__VA_ARGS__);                                                     \
    _Pragma("GCC diagnostic pop")                                                            \
    if (!tried_result)                                                                       \
      return ::phren::fail(std::forward<decltype(tried_result)>(tried_result).error());      \
    ::phren::detail::value_of(std::forward<decltype(tried_result)>(tried_result));           \
  })
// clang-format on

// Nearest of `known` to a mistyped `name`, as " Did you mean 'x'?", or "" when none is near.
template <class Range>
std::string did_you_mean(std::string_view name, const Range& known);

std::size_t edit_distance(std::string_view a, std::string_view b);

template <class Range>
std::string did_you_mean(std::string_view name, const Range& known) {
  std::string best;
  std::size_t best_distance = name.size() / 3 + 2;
  for (const auto& candidate : known) {
    const std::size_t d = edit_distance(name, candidate);
    if (d < best_distance) {
      best_distance = d;
      best = std::string(candidate);
    }
  }
  return best.empty() ? std::string() : " Did you mean '" + best + "'?";
}

}  // namespace phren
