// Compiled with contraction on: labels need no bit-exactness, and fused multiply-add is twice as
// fast.
#include "measurement/rows.h"

#include <cstring>

#include "signal/simd.h"

namespace phren::measurement {
namespace {

typedef float Vector __attribute__((vector_size(64), aligned(4), may_alias));  // 16 floats

PHREN_INLINE void load(Vector& v, const float* from) {
  std::memcpy(&v, from, sizeof v);
}
PHREN_INLINE void store(float* to, const Vector& v) {
  std::memcpy(to, &v, sizeof v);
}
PHREN_INLINE void rectify(Vector& v) {
  for (int i = 0; i < 16; ++i) v[i] = v[i] > 0.0f ? v[i] : 0.0f;
}

// Four outputs by 32 columns stay in registers while all taps pass by.
PHREN_SIMD_CLONES void weigh_four(const float* weights, const float* bias,
                                  const float* const* inputs, std::size_t num_taps,
                                  float* const* outputs, const float* const* add,
                                  std::size_t num_outputs, bool is_relu, std::size_t length) {
  for (std::size_t t = 0; t < length; t += kTile) {
    Vector a0{}, a1{}, b0{}, b1{}, c0{}, c1{}, d0{}, d1{};
    a0 += bias[0], a1 += bias[0];
    b0 += bias[1], b1 += bias[1];
    c0 += bias[2], c1 += bias[2];
    d0 += bias[3], d1 += bias[3];
    const float* w = weights;
    for (std::size_t k = 0; k < num_taps; ++k, w += 4) {
      Vector x0, x1;
      load(x0, inputs[k] + t);
      load(x1, inputs[k] + t + 16);
      a0 += w[0] * x0;
      a1 += w[0] * x1;
      b0 += w[1] * x0;
      b1 += w[1] * x1;
      c0 += w[2] * x0;
      c1 += w[2] * x1;
      d0 += w[3] * x0;
      d1 += w[3] * x1;
    }
    Vector* const results[4][2] = {{&a0, &a1}, {&b0, &b1}, {&c0, &c1}, {&d0, &d1}};
    for (std::size_t o = 0; o < num_outputs; ++o)
      for (std::size_t half = 0; half < 2; ++half) {
        Vector v = *results[o][half];
        if (add != nullptr) {
          Vector more;
          load(more, add[o] + t + 16 * half);
          v += more;
        }
        if (is_relu) rectify(v);
        store(outputs[o] + t + 16 * half, v);
      }
  }
}

PHREN_SIMD_CLONES void weigh_one(const float* weights, const float* const* inputs,
                                 std::size_t num_taps, float bias, bool is_relu, float* out,
                                 std::size_t length) {
  for (std::size_t t = 0; t < length; t += kTile) {
    Vector a0{}, a1{};
    a0 += bias, a1 += bias;
    for (std::size_t k = 0; k < num_taps; ++k) {
      Vector x0, x1;
      load(x0, inputs[k] + t);
      load(x1, inputs[k] + t + 16);
      a0 += weights[k] * x0;
      a1 += weights[k] * x1;
    }
    if (is_relu) rectify(a0), rectify(a1);
    store(out + t, a0);
    store(out + t + 16, a1);
  }
}

// The tile may have written past the end; what lies there must stay zero.
void clear_end(float* row, std::size_t length) {
  const std::size_t end = (length + kTile - 1) / kTile * kTile;
  for (std::size_t t = length; t < end; ++t) row[t] = 0.0f;
}

}  // namespace

Taps Taps::pack(const float* plain, std::size_t num_outputs, std::size_t num_taps,
                const float* bias) {
  Taps taps;
  taps.num_outputs = num_outputs;
  taps.num_taps = num_taps;
  const std::size_t groups = (num_outputs + 3) / 4;
  taps.weights.assign(groups * num_taps * 4, 0.0f);
  taps.bias.assign(groups * 4, 0.0f);
  for (std::size_t o = 0; o < num_outputs; ++o) {
    if (bias != nullptr) taps.bias[o] = bias[o];
    for (std::size_t k = 0; k < num_taps; ++k)
      taps.weights[(o / 4 * num_taps + k) * 4 + o % 4] = plain[o * num_taps + k];
  }
  return taps;
}

void weigh_rows(const Taps& taps, const float* const* inputs, float* const* outputs,
                const float* const* add, bool is_relu, std::size_t length) {
  for (std::size_t o = 0; o < taps.num_outputs; o += 4) {
    const std::size_t count = taps.num_outputs - o < 4 ? taps.num_outputs - o : 4;
    weigh_four(taps.weights.data() + o * taps.num_taps, taps.bias.data() + o, inputs, taps.num_taps,
               outputs + o, add == nullptr ? nullptr : add + o, count, is_relu, length);
    for (std::size_t i = 0; i < count; ++i) clear_end(outputs[o + i], length);
  }
}

void weigh_row(const float* weights, const float* const* inputs, std::size_t num_taps, float bias,
               bool is_relu, float* out, std::size_t length) {
  weigh_one(weights, inputs, num_taps, bias, is_relu, out, length);
  clear_end(out, length);
}

}  // namespace phren::measurement
