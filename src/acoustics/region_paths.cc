#include "acoustics/region_paths.h"

namespace phren::acoustics {
namespace {

constexpr int kTail_chunks = 40;  // filters ring on after the last input

}  // namespace

void RegionPaths::set_ways(const Hearing& h, double fs) noexcept {
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    through_[l] = 1.0f;
    pole_a_[l] = pole_setting(h.crackle_pole_hz[l], fs);
  }
  filter_.set(kThroughLung, filter_setting(h.airway.peak_hz, h.airway.q, fs));
  low_[kThroughLung] = 1.0f;
  band_[kThroughLung] = static_cast<float>(h.airway.band_mix);
  pole_a_[kThroughLung] = pole_setting(h.airway.pole_hz, fs);
  filter_.set(kThroughSolid, filter_setting(h.open_centre_hz, kOpenQ, fs));
  band_[kThroughSolid] = static_cast<float>(1.0 / kOpenQ);
  pole_a_[kThroughSolid] = pole_setting(kOpenPole_hz, fs);
  through_[kHeart] = 1.0f;
  pole_a_[kHeart] = pole_setting(300.0, fs);
}

void RegionPaths::update(const Scene& scene, bool sounding) noexcept {
  const Hearing& h = *scene.hearing;
  const double fs = scene.sample_rate_hz;
  std::array<double, kLanes> gain{};
  if (scene.is_way_new) set_ways(h, fs);
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) gain[l] = 1.0;  // crackles bring their own
  gain[kThroughLung] = h.airway.gain;
  gain[kThroughSolid] = h.open_gain;
  gain[kHeart] = h.heart_gain;
  for (std::size_t l = 0; l < kLanes; ++l) {
    gain_[l] = target_[l];
    target_[l] = static_cast<float>(gain[l]);
    gain_step_[l] = (target_[l] - gain_[l]) / static_cast<float>(scene.frames);
  }
  quiet_chunks_ = sounding ? 0 : quiet_chunks_ + 1;
  active_ = quiet_chunks_ < kTail_chunks;
}

PHREN_SIMD_CLONES void RegionPaths::process(const Lanes* in, Lanes* out,
                                            std::size_t frames) noexcept {
  LaneFilter filter = filter_;
  Lanes pole = pole_, gain = gain_;
  for (std::size_t i = 0; i < frames; ++i) {
    Lanes band;
    const Lanes x = in[i] + 1e-20f;  // keeps dying filters out of the slow subnormal range
    const Lanes low = filter.step(x, band);
    const Lanes mixed = through_ * x + low_ * low + band_ * band;
    pole += pole_a_ * (mixed - pole);
    gain += gain_step_;
    out[i] += pole * gain;
  }
  filter_ = filter;
  pole_ = pole;
}

}  // namespace phren::acoustics
