// A number that does not lie in memory as it is: it is shown one at a time, where it is used.
//
// Shapes:  the bits are turned by a salt that stands beside them. Without a salt of its own (0) a number is
//          turned all the same, but alike everywhere; unpack() of a keyed patient gives each its own.
// Safety:  who reads this file and the memory can undo it. It keeps an exam's patient from whoever searches a
//          page's memory for numbers that he knows or compares it with that of another patient.
// Cost:    two multiplications at each look; no allocation. The value is the same, bit for bit.
#pragma once

#include <bit>
#include <cstdint>
#include <type_traits>

namespace phren::patient {

// A word that tells nothing of the one it was made of: SplitMix64 (Steele, Lea & Flood, OOPSLA 2014;
// constants from memory).
constexpr std::uint64_t stirred(std::uint64_t z) noexcept {
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return z ^ (z >> 31);
}
constexpr std::uint64_t kSplitMixStep = 0x9e3779b97f4a7c15ULL;

template <class T>
class Hidden {
  static_assert(std::is_same_v<T, double> || std::is_enum_v<T> || std::is_unsigned_v<T>);

 public:
  constexpr Hidden(T value = T{}) noexcept : bits_(turned(bits_of(value))) {}
  // A value keeps the salt of the place that it is put in.
  constexpr Hidden& operator=(T value) noexcept {
    bits_ = turned(bits_of(value));
    return *this;
  }
  constexpr operator T() const noexcept { return get(); }
  constexpr T get() const noexcept {
    if constexpr (std::is_same_v<T, double>) {
      return std::bit_cast<double>(turned(bits_));
    } else {
      return static_cast<T>(turned(bits_));
    }
  }
  constexpr void hide_under(std::uint64_t salt) noexcept {
    const std::uint64_t shown = turned(bits_);
    salt_ = salt;
    bits_ = turned(shown);
  }

 private:
  static constexpr std::uint64_t bits_of(T value) noexcept {
    if constexpr (std::is_same_v<T, double>) {
      return std::bit_cast<std::uint64_t>(value);
    } else {
      return static_cast<std::uint64_t>(value);
    }
  }
  constexpr std::uint64_t turned(std::uint64_t bits) const noexcept {
    return bits ^ stirred(salt_ + kSplitMixStep);
  }

  std::uint64_t salt_ = 0;
  std::uint64_t bits_;
};

}  // namespace phren::patient
