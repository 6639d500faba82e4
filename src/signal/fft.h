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
#include <cstring>
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
    for (std::size_t m = 0; m < half_; ++m) {
      copy(even(m), in + 2 * m * kLanes);
      copy(odd(m), in + (2 * m + 1) * kLanes);
    }
    half_transform();
    split(re, im);
  }

  // Where the caller of power() puts the samples itself: 2 m of every lane, and 2 m + 1.
  PHREN_INLINE float* even(std::size_t m) { return re_.data() + m * kLanes; }
  PHREN_INLINE float* odd(std::size_t m) { return im_.data() + m * kLanes; }

  // |X[k]|^2 of the samples put at even() and odd(), which are lost, for the lowest `kept` bins;
  // `power` holds kept * kLanes. REQUIRES: 1 <= kept <= num_bins().
  PHREN_INLINE void power(float* power, std::size_t kept) {
    half_transform();
    const float* zr = re_.data();
    const float* zi = im_.data();
    Lanes xr, xi, out;
    load(xr, zr);
    load(xi, zi);
    out = (xr + xi) * (xr + xi);
    store(power, out);
    if (half_ < kept) {
      out = (xr - xi) * (xr - xi);
      store(power + half_ * kLanes, out);
    }
    for (std::size_t k = 1; k <= half_ / 2 && k < kept; ++k) {
      const std::size_t a = k * kLanes, b = (half_ - k) * kLanes;
      Lanes ar, ai, br, bi;
      load(ar, zr + a);
      load(ai, zi + a);
      load(br, zr + b);
      load(bi, zi + b);
      const Lanes er = 0.5f * (ar + br), ei = 0.5f * (ai - bi);
      const Lanes dr = 0.5f * (ai + bi), di = 0.5f * (br - ar);
      const float wr = split_re_[k], wi = split_im_[k];
      const Lanes tr = wr * dr - wi * di, ti = wr * di + wi * dr;
      if (half_ - k < kept) {
        out = (er - tr) * (er - tr) + (ti - ei) * (ti - ei);
        store(power + b, out);
      }
      out = (er + tr) * (er + tr) + (ei + ti) * (ei + ti);
      store(power + a, out);  // k = half / 2 meets itself: both are equal there
    }
  }

 private:
  typedef float Lanes __attribute__((vector_size(sizeof(float) * kLanes)));

  PHREN_INLINE static void load(Lanes& v, const float* from) { std::memcpy(&v, from, sizeof v); }
  PHREN_INLINE static void store(float* to, const Lanes& v) { std::memcpy(to, &v, sizeof v); }
  PHREN_INLINE static void copy(float* to, const float* from) {
    std::memcpy(to, from, sizeof(Lanes));
  }

  void push_turn(double steps, std::size_t n) {
    const double angle = det::kTwoPi * steps / static_cast<double>(n);
    turn_re_.push_back(static_cast<float>(det::cos(angle)));
    turn_im_.push_back(static_cast<float>(-det::sin(angle)));
  }

  // One radix-4 butterfly: inputs `jump` floats apart, outputs `count` apart; turned by w unless it
  // is the last stage, where all turns are 1.
  template <bool kIsTurned>
  PHREN_INLINE static void butterfly(const float* xr, const float* xi, float* yr, float* yi,
                                     std::size_t jump, std::size_t count, const float* wr,
                                     const float* wi) {
    Lanes ar, ai, br, bi, cr, ci, dr, di;
    load(ar, xr);
    load(ai, xi);
    load(br, xr + jump);
    load(bi, xi + jump);
    load(cr, xr + 2 * jump);
    load(ci, xi + 2 * jump);
    load(dr, xr + 3 * jump);
    load(di, xi + 3 * jump);
    const Lanes apcr = ar + cr, apci = ai + ci, amcr = ar - cr, amci = ai - ci;
    const Lanes bpdr = br + dr, bpdi = bi + di, jr = di - bi, ji = br - dr;  // j (b - d)
    const Lanes t1r = amcr - jr, t1i = amci - ji, t2r = apcr - bpdr, t2i = apci - bpdi;
    const Lanes t3r = amcr + jr, t3i = amci + ji;
    const Lanes sumr = apcr + bpdr, sumi = apci + bpdi;
    store(yr, sumr);
    store(yi, sumi);
    turn<kIsTurned>(t1r, t1i, wr[0], wi[0], yr + count, yi + count);
    turn<kIsTurned>(t2r, t2i, wr[1], wi[1], yr + 2 * count, yi + 2 * count);
    turn<kIsTurned>(t3r, t3i, wr[2], wi[2], yr + 3 * count, yi + 3 * count);
  }

  template <bool kIsTurned>
  PHREN_INLINE static void turn(const Lanes& r, const Lanes& i, float wr, float wi, float* yr,
                                float* yi) {
    if constexpr (kIsTurned) {
      const Lanes turned_r = wr * r - wi * i, turned_i = wr * i + wi * r;
      store(yr, turned_r);
      store(yi, turned_i);
    } else {
      store(yr, r);
      store(yi, i);
    }
  }

  PHREN_INLINE void half_transform() {  // complex transform of re_, im_ in natural order
    const float* wr = turn_re_.data();
    const float* wi = turn_im_.data();
    std::size_t n = half_, stride = kLanes;
    for (; n > 2; n /= 4, stride *= 4) {
      const std::size_t quarter = n / 4, jump = stride * quarter;
      const float* xr = re_.data();
      const float* xi = im_.data();
      float* yr = re2_.data();
      float* yi = im2_.data();
      if (n == 4) {
        for (std::size_t i = 0; i < stride; i += kLanes)
          butterfly<false>(xr + i, xi + i, yr + i, yi + i, jump, stride, wr, wi);
      } else {
        for (std::size_t p = 0; p < quarter;
             ++p, wr += 3, wi += 3, xr += stride, xi += stride, yr += 4 * stride, yi += 4 * stride)
          for (std::size_t i = 0; i < stride; i += kLanes)
            butterfly<true>(xr + i, xi + i, yr + i, yi + i, jump, stride, wr, wi);
      }
      std::swap(re_, re2_);
      std::swap(im_, im2_);
    }
    if (n == 2) last_pairs(stride);
  }

  PHREN_INLINE void last_pairs(std::size_t stride) {
    for (float* a : {re_.data(), im_.data()})
      for (std::size_t i = 0; i < stride; i += kLanes) {
        Lanes low, high;
        load(low, a + i);
        load(high, a + i + stride);
        const Lanes sum = low + high, difference = low - high;
        store(a + i, sum);
        store(a + i + stride, difference);
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
