#include "acoustics/floor_noise.h"

namespace phren::acoustics {
namespace {

constexpr std::size_t kMuscle = 7;  // its lane
constexpr double kMuscleLow_hz = 11.0, kMuscleHigh_hz = 22.0, kMuscleQ = 1.5;
constexpr double kQuietEffort_cmH2O = 6.0;  // at the top of a quiet breath
// Mean square of uniform noise, through a band-pass of the second order with a low-pass before it.
constexpr double kBandPower = 1.0 / 3.0 * 1.25;
constexpr double kSteepQ = 0.9;
// Between breaths neighbouring bands correlate by 0.36-0.58, bands two apart by 0.1 (measured).
constexpr double kSharedCourse = 0.9;

double steep_corner_hz(std::size_t lane) noexcept {
  return 1.1 * (kBandMiddle_hz[lane] + 0.5 * kBandWidth_hz[lane]);
}

}  // namespace

FloorNoise::FloorNoise(Seed seed) noexcept : draw_(seed, "floor") {
  for (std::size_t k = 0; k < kLanes; ++k) {
    noise_[k] = static_cast<std::uint32_t>(draw_.bits() >> 32) | 1u;
  }
  wander_.start(draw_);
}

namespace {

// Power per Hz of lane `k` at f, 1 at its own middle.
double lane_power(std::size_t k, double f_hz) noexcept {
  const auto at = [&](double f) {
    const double steep_hz = steep_corner_hz(k);
    const double x = f / kBandMiddle_hz[k], q = kBandMiddle_hz[k] / kBandWidth_hz[k];
    const double band = 1.0 / (1.0 + q * q * (x - 1.0 / x) * (x - 1.0 / x));
    return low_pass_power(f, steep_hz, kSteepQ) * band;
  };
  return at(f_hz) / at(kBandMiddle_hz[k]);
}

}  // namespace

void FloorNoise::set_instrument(const Instrument& as, const Placing& placing, double fs) noexcept {
  for (std::size_t k = 0; k < kNumBands; ++k) {
    steep_.set(k, filter_setting(steep_corner_hz(k), kSteepQ, fs));
    band_.set(k, filter_setting(kBandMiddle_hz[k], kBandMiddle_hz[k] / kBandWidth_hz[k], fs));
  }
  const double level = response_level(as);
  std::array<double, kNumBands> density{};
  heard_ = 0.0;
  for (std::size_t k = 0; k < kNumBands; ++k) {
    const double f = kBandMiddle_hz[k];
    const double octaves = det::log(f / 200.0) / det::kLn2;
    const double db = as[InstrumentFigure::kFloor_db] + placing.level_db +
                      as.figures[static_cast<std::size_t>(InstrumentFigure::kFloorBand) + k] +
                      placing.tilt_db_per_octave * octaves + placing.band_db[k];
    const double power = det::pow(10.0, 0.1 * db);
    if (k >= 2) heard_ += power;
    const double before =
        power / clamp(response_power(as, f) * level * level, 1e-4, 1e4) / kBandWidth_hz[k];
    // What the skirts of lower bands already bring needs no adding.
    double there = 0.0;
    for (std::size_t j = 0; j < k; ++j) there += density[j] * lane_power(j, f);
    density[k] = before - there > 0.03 * before ? before - there : 0.03 * before;
    lane_level_[k] = det::sqrt(density[k] * kBandWidth_hz[k]);
  }
}

void FloorNoise::update(const Scene& scene, const Instrument& as, double breath,
                        double floor_amount, double muscle_amount) noexcept {
  const double fs = scene.sample_rate_hz;
  const double push = scene.now->muscle_pressure_cmH2O / kQuietEffort_cmH2O;
  effort_ += (clamp(push, 0.0, 4.0) - effort_) * (1.0 - det::exp(-scene.step_s / 0.06));
  const double muscle_hz = mix(kMuscleLow_hz, kMuscleHigh_hz, clamp(effort_, 0.0, 1.0));
  steep_.set(kMuscle, filter_setting(3.0 * muscle_hz, 0.7, fs));
  band_.set(kMuscle, filter_setting(muscle_hz, kMuscleQ, fs));

  const WalkPace pace(scene.step_s, as[InstrumentFigure::kFloorWander_s]);
  const auto courses = wander_.step(draw_, pace, kSharedCourse);
  const double white = det::sqrt(0.5 * fs / kBandPower);
  Lanes gain{};
  for (std::size_t k = 0; k < kNumBands; ++k) {
    const double wander = det::ratio_from_db(as[InstrumentFigure::kFloorWander_db] * courses[k]);
    gain[k] = static_cast<float>(floor_amount * breath * lane_level_[k] * wander * white /
                                 det::sqrt(kBandWidth_hz[k]));
  }
  const double rumble =
      muscle_amount * breath *
      det::ratio_from_db(as[InstrumentFigure::kMuscle_db] +
                         as[InstrumentFigure::kMuscleEffort_db] * clamp(effort_, 0.0, 3.0));
  gain[kMuscle] = static_cast<float>(rumble * white / det::sqrt(muscle_hz / kMuscleQ));
  gain_.aim(gain, scene.frames);
  density_ = floor_amount * breath * det::sqrt(heard_ / 120.0);
}

PHREN_SIMD_CLONES void FloorNoise::make(float* out, std::size_t frames) noexcept {
  LaneFilter steep = steep_, band_filter = band_;
  LaneBits noise = noise_;
  Lanes gain = gain_.now;
  for (std::size_t i = 0; i < frames; ++i) {
    Lanes band, unused;
    const Lanes low = steep.step(next_noise(noise), unused);
    band_filter.step(low, band);
    gain += gain_.step;
    out[i] = sum_of(band * band_filter.damping * gain);
  }
  steep_ = steep;
  band_ = band_filter;
  noise_ = noise;
}

}  // namespace phren::acoustics
