#include "acoustics/flutter.h"

namespace phren::acoustics {
namespace {

constexpr std::size_t kFirstHigh = 4;  // the bands above 250 Hz: small eddies change faster
constexpr double kOverlap = 0.8;       // neighbours' skirts add to each other's change

}  // namespace

Flutter::Flutter(Seed seed) noexcept : draw_(seed, "flutter") {
  fast_.start(draw_);
  slow_.start(draw_);
}

void Flutter::update(const Scene& scene, const Instrument& as, double amount, double level_db,
                     const std::array<double, kNumBands>& band_db) noexcept {
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
  const auto quick = fast_.step(draw_, fast, shared);
  const auto calm = slow_.step(draw_, slow, shared);
  Lanes gain{};
  double middle_db = 0.0;
  for (std::size_t k = 0; k < kNumBands; ++k) {
    const double fast_db = as[k < kFirstHigh ? InstrumentFigure::kFastFlutter_db
                                             : InstrumentFigure::kFastHighFlutter_db];
    const double db =
        amount * (fast_db * quick[k] + as[InstrumentFigure::kSlowFlutter_db] * calm[k]) + level_db +
        band_db[k];
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
