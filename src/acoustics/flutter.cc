#include "acoustics/flutter.h"

namespace phren::acoustics {
namespace {

// Turbulence changes faster where eddies are small.
constexpr std::array<double, kNumBands> kFastShare = {0.8, 0.8, 0.8, 0.8, 1.0, 1.2, 1.2};
constexpr double kOverlap = 0.8;  // neighbours' skirts add to each other's change

}  // namespace

Flutter::Flutter(Seed seed) noexcept : draw_(seed, "flutter") {
  for (std::size_t k = 0; k < kNumBands; ++k) {
    fast_[k].start(draw_);
    slow_[k].start(draw_);
  }
}

void Flutter::update(const Scene& scene, const Instrument& as, double amount,
                     double level_db) noexcept {
  if (set_for_hz_ != scene.sample_rate_hz) {
    set_for_hz_ = scene.sample_rate_hz;
    for (std::size_t k = 0; k < kLanes; ++k) {
      filter_.set(k, filter_setting(kBandMiddle_hz[k], kBandMiddle_hz[k] / kBandWidth_hz[k],
                                    scene.sample_rate_hz));
    }
  }
  const WalkPace fast(scene.step_s, as[InstrumentFigure::kFastFlutter_s]);
  const WalkPace slow(scene.step_s, as[InstrumentFigure::kSlowFlutter_s]);
  const double shared = as[InstrumentFigure::kSharedFlutter];
  const double own = det::sqrt(1.0 - shared), common = det::sqrt(shared);
  const double common_fast = common * shared_fast_.step(draw_, fast.keep, fast.renew);
  const double common_slow = common * shared_slow_.step(draw_, slow.keep, slow.renew);
  Lanes gain{};
  double middle_db = 0.0;
  for (std::size_t k = 0; k < kNumBands; ++k) {
    const double quick = common_fast + own * fast_[k].step(draw_, fast.keep, fast.renew);
    const double calm = common_slow + own * slow_[k].step(draw_, slow.keep, slow.renew);
    const double db = amount * (as[InstrumentFigure::kFastFlutter_db] * kFastShare[k] * quick +
                                as[InstrumentFigure::kSlowFlutter_db] * calm) +
                      level_db;
    gain[k] = static_cast<float>(kOverlap * (det::ratio_from_db(clamp(db, -24.0, 15.0)) - 1.0));
    if (k >= 3 && k < 6) middle_db += db / 3.0;
  }
  gain_.aim(gain, scene.frames);
  windpipe_ = windpipe_target_;
  windpipe_target_ = static_cast<float>(det::ratio_from_db(clamp(middle_db, -24.0, 15.0)));
  windpipe_step_ = (windpipe_target_ - windpipe_) / static_cast<float>(scene.frames);
}

PHREN_SIMD_CLONES void Flutter::process(Lanes* breath, std::size_t frames) noexcept {
  LaneFilter filter = filter_;
  Lanes gain = gain_.now;
  for (std::size_t i = 0; i < frames; ++i) {
    const float x = sum_of(breath[i]);
    Lanes band;
    filter.step(Lanes{} + (x + 1e-20f), band);
    gain += gain_.step;
    breath[i] = band * filter.damping * gain;
    breath[i][7] = x;
  }
  filter_ = filter;
}

void Flutter::process_windpipe(float* windpipe, std::size_t frames) noexcept {
  for (std::size_t i = 0; i < frames; ++i) {
    windpipe_ += windpipe_step_;
    windpipe[i] *= windpipe_;
  }
}

}  // namespace phren::acoustics
