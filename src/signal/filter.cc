#include "signal/filter.h"

#include <algorithm>
#include <cassert>
#include <complex>

#include "base/det_math.h"

namespace phren::signal {
namespace {

Status check_frequency(std::string_view field, double f_hz, double sample_rate_hz) {
  if (!(sample_rate_hz > 0.0))
    return fail(out_of_range("sample_rate_hz", sample_rate_hz, "above 0"));
  if (!(f_hz > 0.0 && f_hz < 0.5 * sample_rate_hz))
    return fail(out_of_range(field, f_hz, "above 0 and below half the sample rate"));
  return {};
}

BiquadCoefficients normalised(double b0, double b1, double b2, double a0, double a1, double a2) {
  return {b0 / a0, b1 / a0, b2 / a0, a1 / a0, a2 / a0};
}

BiquadCoefficients shelf(double cos_w, double alpha, double amplitude, double sign) {
  const double root = 2.0 * det::sqrt(amplitude) * alpha;
  const double up = amplitude + 1.0, down = amplitude - 1.0;
  return normalised(amplitude * (up - sign * down * cos_w + root),
                    sign * 2.0 * amplitude * (down - sign * up * cos_w),
                    amplitude * (up - sign * down * cos_w - root), up + sign * down * cos_w + root,
                    -sign * 2.0 * (down + sign * up * cos_w), up + sign * down * cos_w - root);
}

}  // namespace

Result<BiquadCoefficients> make_section(const SectionConfig& config) {
  TRY(check_frequency("centre_hz", config.centre_hz, config.sample_rate_hz));
  if (!(config.q > 0.0)) return fail(out_of_range("q", config.q, "above 0"));
  if (!(config.gain_db >= -120.0 && config.gain_db <= 120.0))
    return fail(out_of_range("gain_db", config.gain_db, "between -120 and 120"));
  const double w = det::kTwoPi * config.centre_hz / config.sample_rate_hz;
  const double c = det::cos(w), alpha = det::sin(w) / (2.0 * config.q);
  const double a = det::pow(10.0, config.gain_db / 40.0);
  switch (config.kind) {
    case SectionKind::kLowPass:
      return normalised((1 - c) / 2, 1 - c, (1 - c) / 2, 1 + alpha, -2 * c, 1 - alpha);
    case SectionKind::kHighPass:
      return normalised((1 + c) / 2, -(1 + c), (1 + c) / 2, 1 + alpha, -2 * c, 1 - alpha);
    case SectionKind::kBandPass:  // 0 dB at the centre
      return normalised(alpha, 0, -alpha, 1 + alpha, -2 * c, 1 - alpha);
    case SectionKind::kPeak:
      return normalised(1 + alpha * a, -2 * c, 1 - alpha * a, 1 + alpha / a, -2 * c, 1 - alpha / a);
    case SectionKind::kLowShelf:
      return shelf(c, alpha, a, 1.0);
    case SectionKind::kHighShelf:
      return shelf(c, alpha, a, -1.0);
  }
  return BiquadCoefficients{};
}

void Biquad::process(std::span<const float> in, std::span<float> out) noexcept {
  assert(in.size() == out.size());
  Biquad state = *this;  // a local copy stays in registers
  for (std::size_t i = 0; i < in.size(); ++i)
    out[i] = static_cast<float>(state.step(static_cast<double>(in[i])));
  *this = state;
}

FilterChain::FilterChain(std::vector<BiquadCoefficients> sections) {
  for (const auto& coefficients : sections) sections_.emplace_back(coefficients);
}

Result<FilterChain> FilterChain::butterworth(const ButterworthConfig& config) {
  if (config.order < 2 || config.order > 8 || config.order % 2 != 0)
    return fail(out_of_range("order", config.order, "2, 4, 6 or 8"));
  std::vector<BiquadCoefficients> sections;
  for (int k = 0; k < config.order / 2; ++k) {
    // Pole pair at angle (2k+1) pi / 2n from the imaginary axis: q = 1 / (2 sin angle).
    const double angle = det::kPi * (2 * k + 1) / (2.0 * config.order);
    auto section = TRY(
        make_section({.kind = config.is_high_pass ? SectionKind::kHighPass : SectionKind::kLowPass,
                      .sample_rate_hz = config.sample_rate_hz,
                      .centre_hz = config.corner_hz,
                      .q = 1.0 / (2.0 * det::sin(angle))}));
    sections.push_back(section);
  }
  return FilterChain(std::move(sections));
}

void FilterChain::append(const FilterChain& other) {
  sections_.insert(sections_.end(), other.sections_.begin(), other.sections_.end());
}

void FilterChain::process(std::span<const float> in, std::span<float> out) noexcept {
  assert(in.size() == out.size());
  if (out.data() != in.data()) std::copy(in.begin(), in.end(), out.begin());
  for (std::size_t start = 0; start < out.size(); start += 1024) {  // stay in the first cache
    const auto block = out.subspan(start, std::min<std::size_t>(1024, out.size() - start));
    for (Biquad& section : sections_) section.process(block, block);
  }
}

void FilterChain::reset() noexcept {
  for (Biquad& section : sections_) section.reset();
}

double FilterChain::gain_db(double frequency_hz, double sample_rate_hz) const {
  const double w = det::kTwoPi * frequency_hz / sample_rate_hz;
  const std::complex<double> z1(det::cos(w), -det::sin(w));
  std::complex<double> h = 1.0;
  for (const Biquad& section : sections_) {
    const auto& c = section.coefficients();
    h *= (c.b0 + z1 * (c.b1 + z1 * c.b2)) / (1.0 + z1 * (c.a1 + z1 * c.a2));
  }
  return det::db_from_ratio(std::abs(h));
}

}  // namespace phren::signal
