// Second-order sections and Butterworth filters built from them.
//
// Shapes:  `in` and `out` are mono blocks of one length n >= 0; they may be the same block.
// Units:   frequencies in Hz, gains in dB, samples in full scale, q unitless.
// Errors:  the makers reject bad settings; process() cannot fail and never allocates.
// Threads: an instance belongs to one thread; instances share nothing.
// Source:  bilinear transform with pre-warping; section formulas of R. Bristow-Johnson's cookbook
//          (from memory), checked against closed forms in tests/signal/filter_test.cc.
#pragma once

#include <span>
#include <vector>

#include "base/result.h"

namespace phren::signal {

struct BiquadCoefficients {  // normalised: a0 = 1
  double b0 = 1.0, b1 = 0.0, b2 = 0.0, a1 = 0.0, a2 = 0.0;
};

// Kinds of second-order section. `gain_db` is used by the last three only.
enum class SectionKind { kLowPass, kHighPass, kBandPass, kPeak, kLowShelf, kHighShelf };

struct SectionConfig {
  SectionKind kind = SectionKind::kLowPass;
  double sample_rate_hz = 8000.0;
  double centre_hz = 1000.0;  // in (0, sample_rate_hz / 2)
  double q = 0.70710678;      // > 0
  double gain_db = 0.0;
};
Result<BiquadCoefficients> make_section(const SectionConfig& config);

class Biquad {
 public:
  Biquad() = default;
  explicit Biquad(const BiquadCoefficients& coefficients) noexcept : c_(coefficients) {}

  double step(double x) noexcept {  // transposed direct form II
    const double y = c_.b0 * x + s1_;
    s1_ = c_.b1 * x - c_.a1 * y + s2_;
    s2_ = c_.b2 * x - c_.a2 * y;
    return y;
  }
  void process(std::span<const float> in, std::span<float> out) noexcept;
  void reset() noexcept { s1_ = s2_ = 0.0; }
  const BiquadCoefficients& coefficients() const noexcept { return c_; }

 private:
  BiquadCoefficients c_;
  double s1_ = 0.0, s2_ = 0.0;
};

struct ButterworthConfig {
  bool is_high_pass = false;
  int order = 4;  // 2, 4, 6 or 8
  double sample_rate_hz = 8000.0;
  double corner_hz = 1000.0;  // -3.01 dB here; in (0, sample_rate_hz / 2)
};

class FilterChain {  // sections one after another
 public:
  FilterChain() = default;
  explicit FilterChain(std::vector<BiquadCoefficients> sections);
  static Result<FilterChain> butterworth(const ButterworthConfig& config);
  void append(const FilterChain& other);

  double step(double x) noexcept {
    for (Biquad& section : sections_) x = section.step(x);
    return x;
  }
  // Any split into blocks gives the same output.
  void process(std::span<const float> in, std::span<float> out) noexcept;
  void reset() noexcept;
  double gain_db(double frequency_hz, double sample_rate_hz) const;

 private:
  std::vector<Biquad> sections_;
};

}  // namespace phren::signal
