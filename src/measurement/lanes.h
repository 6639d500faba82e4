// Sums and orders that fill the machine's vectors; private to this room. Sums keep sixteen partial
// sums, so that the order of addition is fixed and the compiler may still use whole vectors.
#pragma once

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>

#include "signal/simd.h"

namespace phren::measurement {

template <class Term>
PHREN_INLINE float lane_sum(std::size_t count, Term term) {
  std::array<float, 16> lanes{};
  std::size_t i = 0;
  for (; i + 16 <= count; i += 16)
    for (std::size_t l = 0; l < 16; ++l) lanes[l] += term(i + l);
  float sum = 0.0f;
  for (; i < count; ++i) sum += term(i);
  for (const float lane : lanes) sum += lane;
  return sum;
}

template <class Term>
PHREN_INLINE float lane_max(std::size_t count, float least, Term term) {
  std::array<float, 16> lanes;
  lanes.fill(least);
  std::size_t i = 0;
  for (; i + 16 <= count; i += 16)
    for (std::size_t l = 0; l < 16; ++l) {
      const float v = term(i + l);
      lanes[l] = lanes[l] > v ? lanes[l] : v;
    }
  float top = least;
  for (; i < count; ++i) top = top > term(i) ? top : term(i);
  for (const float lane : lanes) top = top > lane ? top : lane;
  return top;
}

// Sorts each column of kSize rows by itself, sixteen columns at a time: Batcher's merge exchange
// (Knuth, The Art of Computer Programming 3, 5.2.2, algorithm M; from memory), which never branches
// on values.
inline constexpr std::size_t kColumns = 16;
typedef float Sixteen __attribute__((vector_size(64)));
template <std::size_t kSize>
PHREN_INLINE void sort_columns(Sixteen (&rows)[kSize]) {
  constexpr std::size_t kTop = std::bit_ceil(kSize) / 2;
#pragma GCC unroll 8
  for (std::size_t p = kTop; p > 0; p /= 2) {
    std::size_t q = kTop, r = 0, d = p;
    while (true) {
#pragma GCC unroll 32
      for (std::size_t i = 0; i + d < kSize; ++i) {
        if ((i & p) != r) continue;
        const Sixteen a = rows[i], b = rows[i + d];
        rows[i] = a < b ? a : b;
        rows[i + d] = a < b ? b : a;
      }
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

}  // namespace phren::measurement
