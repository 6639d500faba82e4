#include "acoustics/tones.h"

namespace phren::acoustics {
namespace {

constexpr double kHysteresis_db = 4.0;
constexpr double kShortest_s = 0.02;
constexpr float kSilence = 1e-8f;

}  // namespace

void ToneLanes::set(std::size_t lane, const Target& target, double sample_rate_hz,
                    std::size_t frames) noexcept {
  const bool above_band = target.pitch_hz > 0.4 * sample_rate_hz;
  turn_[lane] = static_cast<float>(clamp(target.pitch_hz / sample_rate_hz, 0.0, 0.4));
  bend_[lane] = static_cast<float>(target.bend);
  damp_[lane] = static_cast<float>(target.damp);
  gain_[lane] = target_[lane];
  target_[lane] = above_band ? 0.0f : static_cast<float>(target.amplitude);
  gain_step_[lane] = (target_[lane] - gain_[lane]) / static_cast<float>(frames);
}

bool ToneLanes::is_audible() const noexcept {
  for (std::size_t l = 0; l < kLanes; ++l) {
    if (gain_[l] > kSilence || target_[l] > kSilence) return true;
  }
  return false;
}

PHREN_SIMD_CLONES void ToneLanes::process(Lanes* out, std::size_t frames) noexcept {
  Lanes phase = phase_, gain = gain_;
  for (std::size_t i = 0; i < frames; ++i) {
    phase += turn_;
    phase = phase >= 1.0f ? phase - 1.0f : phase;
    const Lanes bent = phase + 1.0f + bend_ * sin_cycles(phase);
    const Lanes fade = 1.0f - damp_ * phase;
    gain += gain_step_;
    out[i] += sin_cycles(bent) * (fade * fade) * gain;
  }
  phase_ = phase;
}

void TonalTrack::follow(const Scene& scene, const Now& now) noexcept {
  const bool is_silent = now.mean_square <= 1e-16;
  if (is_silent && !open_) return;
  if (!is_silent && !scene.is_judging) return;
  const double above =
      is_silent ? -100.0
                : tone_above_background_db(*scene.background, now.pitch_hz, now.mean_square);
  const auto phase = scene.now->phase;
  if (open_ && (above < kToneThreshold_db - kHysteresis_db || event_.sound != now.sound ||
                (event_.phase != phase && phase != exam::Phase::kPause))) {
    finish(*scene.truth);
  }
  if (!open_) {
    if (above < kToneThreshold_db) return;
    open_ = true;
    event_ = {};
    event_.sound = now.sound;
    event_.region = now.region;
    event_.phase = phase;
    event_.start_s = scene.start_s;
    pitch_sum_ = weight_ = 0.0;
    best_db_ = -100.0;
  }
  event_.end_s = scene.start_s + scene.step_s;
  pitch_sum_ += now.pitch_hz * now.mean_square;
  weight_ += now.mean_square;
  if (above > best_db_) best_db_ = above;
}

void TonalTrack::finish(TruthRing& truth) noexcept {
  if (!open_) return;
  open_ = false;
  if (event_.end_s - event_.start_s < kShortest_s || weight_ <= 0.0) return;
  event_.pitch_hz = pitch_sum_ / weight_;
  event_.level_above_background_db = best_db_;
  event_.audible = best_db_ > kToneThreshold_db;
  truth.push(event_);
}

}  // namespace phren::acoustics
