#include "acoustics/transients.h"

namespace phren::acoustics {
namespace {

constexpr float kGone = 0.004f;  // of its size: 48 dB down
constexpr double kGrainMemory_s = 0.008;
constexpr double kRecorderLow_hz = 60.0, kRecorderHigh_hz = 520.0;  // of the band it clicks through
constexpr float kClickPeak = 0.85f;  // of a step of 1 after that band
constexpr double kClickTail_s = 0.1;

void set_mode(auto& mode, double pitch_hz, double phase, double fs) noexcept {
  const double turn = det::kTwoPi * pitch_hz / fs;
  mode.cosine = static_cast<float>(det::cos(turn));
  mode.sine = static_cast<float>(det::sin(turn));
  mode.x = static_cast<float>(det::cos(phase));
  mode.y = static_cast<float>(det::sin(phase));
}

void turn(auto& mode) noexcept {
  const float x = mode.x * mode.cosine - mode.y * mode.sine;
  mode.y = mode.x * mode.sine + mode.y * mode.cosine;
  mode.x = x;
}

// Tallest point of the two modes within their first cycle and a half, found by looking.
double tallest(const Transients::Blow& b) noexcept {
  constexpr int kLooks = 36;
  double best = 1e-6;
  for (int i = 1; i <= kLooks; ++i) {
    const double cycles = 1.5 * i / kLooks;
    const double fade = det::kPi * cycles / b.q;
    double y = 0.0;
    if (b.soft) {
      const double d = 1.6 * 2.5 * fade;
      y = d * d * det::exp(-d) * det::sin(2.5 * det::kTwoPi * cycles + 1.0);
    } else {
      y = det::exp(-fade) * det::sin(det::kTwoPi * cycles) +
          b.mix * det::exp(-fade * b.second_ratio) *
              det::sin(det::kTwoPi * b.second_ratio * cycles);
    }
    const double size = y < 0.0 ? -y : y;
    if (size > best) best = size;
  }
  return best;
}

}  // namespace

Transients::Transients(Seed seed, double sample_rate_hz) noexcept
    : sample_rate_hz_(sample_rate_hz), draw_(seed, "transients") {
  click_high_.at = filter_setting(kRecorderLow_hz, 0.71, sample_rate_hz);
  click_low_.at = filter_setting(kRecorderHigh_hz, 0.71, sample_rate_hz);
}

void Transients::strike(const Blow& b) noexcept {
  BlowVoice& v = blows_[next_blow_];
  next_blow_ = (next_blow_ + 1) % kBlows;
  const double fs = sample_rate_hz_;
  const double pitch = clamp(b.pitch_hz, 30.0, 0.2 * fs);
  const double fade = (b.soft ? 1.6 : 1.0) * det::kPi * pitch / (b.q * fs);
  v = {};
  v.soft = b.soft;
  v.level = static_cast<float>(b.peak / tallest(b));
  v.size = v.second_size = 1.0f;
  v.decay = static_cast<float>(det::exp(-fade));
  v.rise_step = static_cast<float>(fade);
  set_mode(v.first, pitch, b.soft ? 1.0 : 0.0, fs);
  const double second = clamp(pitch * b.second_ratio, 30.0, 0.42 * fs);
  v.second_decay = static_cast<float>(det::exp(-fade * second / pitch));
  v.mix = b.soft ? 0.0f : static_cast<float>(b.mix);
  set_mode(v.second, second, 0.0, fs);
  v.delay = static_cast<std::uint32_t>(b.delay_s * fs);
  v.on = true;
}

void Transients::rub(const Rub& r) noexcept {
  RubVoice& v = rubs_[next_rub_];
  next_rub_ = (next_rub_ + 1) % kRubs;
  const double fs = sample_rate_hz_;
  const double high = clamp(r.high_hz, 1.6 * r.low_hz, 0.45 * fs);
  v = {};
  v.low.at = filter_setting(high, 0.71, fs);
  v.high.at = filter_setting(r.low_hz, 0.71, fs);
  v.noise[0] = static_cast<std::uint32_t>(draw_.bits() >> 32) | 1u;
  v.grain_db = r.grain_db;
  v.grain = draw_.normal();
  const double spread = 0.11513 * r.grain_db;  // keeps the mean power as the grain grows
  const double loud = det::exp(-spread * spread);
  v.level = static_cast<float>(r.level * loud * det::sqrt(1.5 * fs / (1.1 * (high - r.low_hz))));
  v.gain = static_cast<float>(det::ratio_from_db(v.grain_db * v.grain));
  v.length = static_cast<std::uint32_t>(r.length_s * fs) + 2;
  v.on = true;
}

void Transients::click(double height, double length_s, double delay_s) noexcept {
  ClickVoice& v = clicks_[next_click_];
  next_click_ = (next_click_ + 1) % kClicks;
  v.height = static_cast<float>(height) / kClickPeak;
  v.from = static_cast<std::uint32_t>(delay_s * sample_rate_hz_);
  v.to = v.from + static_cast<std::uint32_t>(length_s * sample_rate_hz_) + 1;
  v.on = true;
  click_tail_ = 1;
}

void Transients::process_blow(BlowVoice& v, float* out, std::size_t frames) const noexcept {
  if (v.delay >= frames) {
    v.delay -= static_cast<std::uint32_t>(frames);
    return;
  }
  for (std::size_t i = v.delay; i < frames; ++i) {
    float y = v.first.y * v.size;
    if (v.soft) {
      y *= v.rise * v.rise;
      v.rise += v.rise_step;
    } else {
      y += v.mix * v.second.y * v.second_size;
      turn(v.second);
      v.second_size *= v.second_decay;
    }
    out[i] += v.level * y;
    turn(v.first);
    v.size *= v.decay;
  }
  v.delay = 0;
  const float rest = v.soft ? v.size * v.rise * v.rise : v.size;
  if (rest < kGone && (!v.soft || v.rise > 3.0f)) v.on = false;
}

void Transients::process_rub(RubVoice& v, float* out, std::size_t frames) noexcept {
  const double keep = det::exp(-static_cast<double>(frames) / sample_rate_hz_ / kGrainMemory_s);
  v.grain = keep * v.grain + det::sqrt(1.0 - keep * keep) * draw_.normal();
  const auto aim = static_cast<float>(det::ratio_from_db(v.grain_db * v.grain));
  const float step = (aim - v.gain) / static_cast<float>(frames);
  for (std::size_t i = 0; i < frames && v.at < v.length; ++i, ++v.at) {
    const float t = static_cast<float>(v.at) / static_cast<float>(v.length);
    const float swell = 4.0f * t * (1.0f - t);
    const float white = next_noise(v.noise)[0];
    v.gain += step;
    out[i] += v.level * v.gain * swell * v.high.step(v.low.step(white).low).high;
  }
  if (v.at >= v.length) v.on = false;
}

void Transients::process_clicks(float* out, std::size_t frames) noexcept {
  const auto n = static_cast<std::uint32_t>(frames);
  bool any = false;
  for (std::size_t i = 0; i < frames; ++i) {
    float x = 0.0f;
    const auto at = static_cast<std::uint32_t>(i);
    for (const ClickVoice& v : clicks_) {
      if (v.on && at >= v.from && at < v.to) x += v.height;
    }
    out[i] += click_low_.step(click_high_.step(x).high).low;
  }
  for (ClickVoice& v : clicks_) {
    if (!v.on) continue;
    v.from = v.from > n ? v.from - n : 0;
    v.to = v.to > n ? v.to - n : 0;
    if (v.to == 0) v.on = false;
    any = any || v.on;
  }
  click_tail_ += n;
  if (any) click_tail_ = 1;
  if (click_tail_ > static_cast<std::uint32_t>(kClickTail_s * sample_rate_hz_)) click_tail_ = 0;
}

void Transients::process(float* out, std::size_t frames) noexcept {
  sounding_ = false;
  for (BlowVoice& v : blows_) {
    if (!v.on) continue;
    sounding_ = true;
    process_blow(v, out, frames);
  }
  for (RubVoice& v : rubs_) {
    if (!v.on) continue;
    sounding_ = true;
    process_rub(v, out, frames);
  }
  if (click_tail_ > 0) {
    sounding_ = true;
    process_clicks(out, frames);
  }
}

}  // namespace phren::acoustics
