// Sums over long rows that fill the machine's vectors: sixteen partial sums, so that the order of
// addition is fixed and the compiler may still use whole vectors; private to this room.
#pragma once

#include <array>
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

}  // namespace phren::measurement
