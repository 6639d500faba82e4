#include "acoustics/airway_noise.h"

#include "acoustics/breath_noise.h"

namespace phren::acoustics {
namespace {

constexpr double kDensity = 7.6e-3;  // 18 dB above the back base, spread over about 1 kHz
constexpr double kAdultCorner_hz = 1080.0;
constexpr double kJetDensity = 2.5e-3;
constexpr double kJetSpeed_m_per_s = 20.0;
constexpr std::array<double, 4> kShare = {0.62, 0.58, 0.38, 0.36};  // squares sum to 1

}  // namespace

AirwayNoise::AirwayNoise(Seed seed) noexcept {
  RandomStream draw(seed, "airway_noise");
  for (std::size_t l = 0; l < kLanes; ++l) {
    noise_[l] = static_cast<std::uint32_t>(draw.bits() >> 32) | 1u;
  }
}

void AirwayNoise::update(const Scene& scene) noexcept {
  const auto& now = *scene.now;
  const double q = now.trachea_flow_L_per_s;
  const double x = (q < 0.0 ? -q : q) / scene.scale.flow_L_per_s;
  density_ = x < 1e-4 ? 0.0 : kDensity * det::pow(x, kFlowExponent);
  corner_hz_ = kAdultCorner_hz * det::sqrt(scene.scale.pitch);
  const auto& upper = now.upper_airway;
  const double jet =
      upper.jet_speed_m_per_s < 0.0 ? -upper.jet_speed_m_per_s : upper.jet_speed_m_per_s;
  const double rush = clamp(jet / kJetSpeed_m_per_s, 0.0, 3.0);
  const double jet_density =
      upper.narrowing > 0.05 ? kJetDensity * clamp(upper.narrowing, 0.0, 1.0) * rush * rush * rush
                             : 0.0;

  const double white = det::sqrt(1.5 * scene.sample_rate_hz);
  const FilterSetting one = filter_setting(corner_hz_, 0.541, scene.sample_rate_hz);
  const FilterSetting two = filter_setting(corner_hz_, 1.307, scene.sample_rate_hz);
  const FilterSetting jet_one =
      filter_setting(1400.0 * scene.scale.pitch, 0.9, scene.sample_rate_hz);
  for (std::size_t l = 0; l < kLanes; ++l) {
    const bool is_jet = l >= 4;
    first_.set(l, is_jet ? jet_one : one);
    second_.set(l, is_jet ? jet_one : two);
    const double density = l < 4 ? density_ * kShare[l] : l == 4 ? jet_density : 0.0;
    gain_[l] = target_[l];
    target_[l] = static_cast<float>(density * white);
    gain_step_[l] = (target_[l] - gain_[l]) / static_cast<float>(scene.frames);
  }
  audible_ = density_ > 1e-9 || jet_density > 1e-9 || gain_[0] > 0.0f || gain_[4] > 0.0f;
}

PHREN_SIMD_CLONES void AirwayNoise::process(float* out, std::size_t frames) noexcept {
  if (!audible_) {
    for (std::size_t i = 0; i < frames; ++i) out[i] = 0.0f;
    return;
  }
  for (std::size_t i = 0; i < frames; ++i) {
    Lanes band;
    const Lanes a = first_.step(next_noise(noise_), band);
    const Lanes b = second_.step(a, band);
    gain_ += gain_step_;
    out[i] = sum_of(b * gain_);
  }
}

}  // namespace phren::acoustics
