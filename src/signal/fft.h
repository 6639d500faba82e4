// Fourier transform of real blocks, kLanes blocks side by side so that the inner loops fill the
// machine's vectors whatever their width. kLanes = 1 is the plain transform of one block.
//
// Shapes:  sample n of lane l lies at [n * kLanes + l]; so does bin k, k = 0 .. size / 2.
// Units:   unscaled forward transform, X[k] = sum x[n] exp(-2 pi i k n / size).
// Errors:  none; size is a power of two, at least 8 (asserted).
// Threads: an instance has scratch memory and belongs to one thread. No allocation after make.
// Source:  Stockham's autosort radix-4 scheme, half-size complex transform for real input.
#pragma once

#include <cassert>
#include <complex>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "base/det_math.h"
#include "signal/simd.h"

namespace phren::signal {

template <std::size_t kLanes>
class RealFft {
 public:
  explicit RealFft(std::size_t size) : size_(size), half_(size / 2) {
    assert(size >= 8 && (size & (size - 1)) == 0);
    for (auto* buffer : {&re_, &im_, &re2_, &im2_}) buffer->resize(half_ * kLanes);
    for (std::size_t n = half_; n > 2; n /= 4)
      for (std::size_t p = 0; p < n / 4; ++p)
        for (std::size_t m = 1; m <= 3; ++m) push_turn(static_cast<double>(m * p), n);
    for (std::size_t k = 0; k <= half_ / 2; ++k) {
      const double angle = det::kTwoPi * static_cast<double>(k) / static_cast<double>(size_);
      split_re_.push_back(static_cast<float>(det::cos(angle)));
      split_im_.push_back(static_cast<float>(-det::sin(angle)));
    }
  }

  std::size_t size() const { return size_; }
  std::size_t num_bins() const { return half_ + 1; }

  // REQUIRES: `in` holds size() * kLanes, `re` and `im` num_bins() * kLanes, all apart.
  PHREN_INLINE void transform(const float* in, float* re, float* im) {
    load(in);
    half_transform();
    split(re, im);
  }

  // |X[k]|^2; `power` holds num_bins() * kLanes.
  PHREN_INLINE void power(const float* in, float* power) {
    load(in);
    half_transform();
    const float* zr = re_.data();
    const float* zi = im_.data();
    for (std::size_t l = 0; l < kLanes; ++l) {
      const float sum = zr[l] + zi[l], difference = zr[l] - zi[l];
      power[l] = sum * sum;
      power[half_ * kLanes + l] = difference * difference;
    }
    for (std::size_t k = 1; k <= half_ / 2; ++k) {
      const float wr = split_re_[k], wi = split_im_[k];
      const std::size_t a = k * kLanes, b = (half_ - k) * kLanes;
      float* __restrict pa = power + a;
      float* __restrict pb = power + b;
      for (std::size_t l = 0; l < kLanes; ++l) {
        const float er = 0.5f * (zr[a + l] + zr[b + l]), ei = 0.5f * (zi[a + l] - zi[b + l]);
        const float dr = 0.5f * (zi[a + l] + zi[b + l]), di = 0.5f * (zr[b + l] - zr[a + l]);
        const float tr = wr * dr - wi * di, ti = wr * di + wi * dr;
        const float low = (er + tr) * (er + tr) + (ei + ti) * (ei + ti);
        const float high = (er - tr) * (er - tr) + (ti - ei) * (ti - ei);
        pb[l] = high;
        pa[l] = low;  // k = half / 2 meets itself: both are equal there
      }
    }
  }

 private:
  void push_turn(double steps, std::size_t n) {
    const double angle = det::kTwoPi * steps / static_cast<double>(n);
    turn_re_.push_back(static_cast<float>(det::cos(angle)));
    turn_im_.push_back(static_cast<float>(-det::sin(angle)));
  }

  PHREN_INLINE void load(const float* in) {  // even samples real, odd ones imaginary
    float* __restrict zr = re_.data();
    float* __restrict zi = im_.data();
    for (std::size_t m = 0; m < half_; ++m)
      for (std::size_t l = 0; l < kLanes; ++l) {
        zr[m * kLanes + l] = in[2 * m * kLanes + l];
        zi[m * kLanes + l] = in[(2 * m + 1) * kLanes + l];
      }
  }

  // One radix-4 butterfly over `count` neighbours at stride positions.
  PHREN_INLINE static void butterfly(const float* __restrict xr, const float* __restrict xi,
                                     float* __restrict yr, float* __restrict yi, std::size_t jump,
                                     std::size_t count, const float* wr, const float* wi) {
    const float w1r = wr[0], w2r = wr[1], w3r = wr[2], w1i = wi[0], w2i = wi[1], w3i = wi[2];
    for (std::size_t i = 0; i < count; ++i) {
      const float ar = xr[i], ai = xi[i], br = xr[i + jump], bi = xi[i + jump];
      const float cr = xr[i + 2 * jump], ci = xi[i + 2 * jump];
      const float dr = xr[i + 3 * jump], di = xi[i + 3 * jump];
      const float apcr = ar + cr, apci = ai + ci, amcr = ar - cr, amci = ai - ci;
      const float bpdr = br + dr, bpdi = bi + di, jr = di - bi, ji = br - dr;  // j (b - d)
      yr[i] = apcr + bpdr;
      yi[i] = apci + bpdi;
      const float t1r = amcr - jr, t1i = amci - ji;
      yr[i + count] = w1r * t1r - w1i * t1i;
      yi[i + count] = w1r * t1i + w1i * t1r;
      const float t2r = apcr - bpdr, t2i = apci - bpdi;
      yr[i + 2 * count] = w2r * t2r - w2i * t2i;
      yi[i + 2 * count] = w2r * t2i + w2i * t2r;
      const float t3r = amcr + jr, t3i = amci + ji;
      yr[i + 3 * count] = w3r * t3r - w3i * t3i;
      yi[i + 3 * count] = w3r * t3i + w3i * t3r;
    }
  }

  PHREN_INLINE void half_transform() {  // complex transform of re_, im_ in natural order
    const float* wr = turn_re_.data();
    const float* wi = turn_im_.data();
    std::size_t n = half_, stride = kLanes;
    for (; n > 2; n /= 4, stride *= 4) {
      const std::size_t quarter = n / 4, jump = stride * quarter;
      for (std::size_t p = 0; p < quarter; ++p, wr += 3, wi += 3)
        butterfly(re_.data() + stride * p, im_.data() + stride * p, re2_.data() + 4 * stride * p,
                  im2_.data() + 4 * stride * p, jump, stride, wr, wi);
      std::swap(re_, re2_);
      std::swap(im_, im2_);
    }
    if (n == 2) last_pairs(stride);
  }

  PHREN_INLINE void last_pairs(std::size_t stride) {
    float* __restrict a = re_.data();
    float* __restrict b = im_.data();
    for (std::size_t i = 0; i < stride; ++i) {
      const float r = a[i + stride], s = b[i + stride];
      a[i + stride] = a[i] - r;
      b[i + stride] = b[i] - s;
      a[i] += r;
      b[i] += s;
    }
  }

  PHREN_INLINE void split(float* __restrict re, float* __restrict im) {
    const float* zr = re_.data();
    const float* zi = im_.data();
    for (std::size_t l = 0; l < kLanes; ++l) {
      re[l] = zr[l] + zi[l];
      re[half_ * kLanes + l] = zr[l] - zi[l];
      im[l] = im[half_ * kLanes + l] = 0.0f;
    }
    for (std::size_t k = 1; k <= half_ / 2; ++k) {
      const float wr = split_re_[k], wi = split_im_[k];
      const std::size_t a = k * kLanes, b = (half_ - k) * kLanes;
      for (std::size_t l = 0; l < kLanes; ++l) {
        const float er = 0.5f * (zr[a + l] + zr[b + l]), ei = 0.5f * (zi[a + l] - zi[b + l]);
        const float dr = 0.5f * (zi[a + l] + zi[b + l]), di = 0.5f * (zr[b + l] - zr[a + l]);
        const float tr = wr * dr - wi * di, ti = wr * di + wi * dr;
        re[b + l] = er - tr;
        im[b + l] = ti - ei;
        re[a + l] = er + tr;
        im[a + l] = ei + ti;
      }
    }
  }

  std::size_t size_, half_;
  std::vector<float> re_, im_, re2_, im2_;
  std::vector<float> turn_re_, turn_im_, split_re_, split_im_;
};

// The spectrum of one block, num_bins = size / 2 + 1. For work where convenience beats speed.
inline std::vector<std::complex<float>> spectrum_of(std::span<const float> block) {
  RealFft<1> fft(block.size());
  std::vector<float> re(fft.num_bins()), im(fft.num_bins());
  fft.transform(block.data(), re.data(), im.data());
  std::vector<std::complex<float>> out(fft.num_bins());
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = {re[k], im[k]};
  return out;
}

}  // namespace phren::signal
