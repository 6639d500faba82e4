// Rows of numbers over time, and the one product that every layer of the network is made of;
// private to this room.
//
// Shapes:  a Rows holds `num_rows` rows of `length` values, each with kPad zeros in front and at
// least
//          kPad zeros behind, so that a shifted row needs no bounds check.
#pragma once

#include <cstddef>
#include <vector>

namespace phren::measurement {

inline constexpr std::size_t kPad = 64;   // at least the reach of the widest dilated kernel
inline constexpr std::size_t kTile = 32;  // columns computed at once

class Rows {
 public:
  void resize(std::size_t num_rows, std::size_t length) {
    num_rows_ = num_rows;
    length_ = length;
    stride_ = 2 * kPad + (length + kTile - 1) / kTile * kTile;
    values_.assign(num_rows * stride_, 0.0f);
  }
  std::size_t num_rows() const { return num_rows_; }
  std::size_t length() const { return length_; }
  float* row(std::size_t r) { return values_.data() + r * stride_ + kPad; }
  const float* row(std::size_t r) const { return values_.data() + r * stride_ + kPad; }

 private:
  std::size_t num_rows_ = 0, length_ = 0, stride_ = 0;
  std::vector<float> values_;
};

// Weights of one layer, four outputs interleaved: at [(o / 4 * num_taps + k) * 4 + o % 4].
struct Taps {
  std::size_t num_outputs = 0, num_taps = 0;
  std::vector<float> weights, bias;

  // `plain` is [output][tap]; `bias` may be empty.
  static Taps pack(const float* plain, std::size_t num_outputs, std::size_t num_taps,
                   const float* bias);
};

// out[o][t] = act(bias[o] + sum over k of weight[o][k] * taps[k][t]) for t < length; taps has
// num_taps row pointers, outputs num_outputs; add, where given, is added before the activation.
void weigh_rows(const Taps& taps, const float* const* inputs, float* const* outputs,
                const float* const* add, bool is_relu, std::size_t length);

// out[t] = act(bias + sum over taps of weight[k] * inputs[k][t]): one row, as depthwise layers
// need.
void weigh_row(const float* weights, const float* const* inputs, std::size_t num_taps, float bias,
               bool is_relu, float* out, std::size_t length);

}  // namespace phren::measurement
