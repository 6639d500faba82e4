#include "acoustics/breath_noise.h"

namespace phren::acoustics {
namespace {

constexpr double kExpiration = 0.43;  // amplitude against inspiration at the same flow
constexpr double kBreathCorner_hz = 295.0;
// Narrowing makes the sound louder and higher (Schreur 1995, falls of FEV1 to 40 %); nothing was
// measured beyond that, and nothing is added.
constexpr double kMostNarrowing = 0.35;
constexpr double kSilence = 1e-9;  // density that no ear could find

}  // namespace

BreathNoise::BreathNoise(Seed seed) noexcept {
  RandomStream draw(seed, "breath_noise");
  for (Group& group : groups_) {
    for (std::size_t l = 0; l < kLanes; ++l) {
      group.noise[l] = static_cast<std::uint32_t>(draw.bits() >> 32) | 1u;
    }
  }
}

LobeNoise lobe_noise(const patient::LobeState& lobe, double share,
                     const BodyScale& scale) noexcept {
  LobeNoise out;
  const bool in = lobe.flow_L_per_s >= 0.0;
  const double flow = in ? lobe.flow_L_per_s : -lobe.flow_L_per_s;
  const double x = flow / (scale.flow_L_per_s * share);
  const double narrow = clamp(1.0 - lobe.airway_radius_ratio, 0.0, kMostNarrowing);
  double amplitude = x < 1e-4 ? 0.0 : det::pow(x, kFlowExponent);
  if (!in) amplitude *= kExpiration;
  amplitude *= (1.0 - clamp(lobe.consolidation, 0.0, 1.0)) *
               (1.0 - 0.6 * clamp(lobe.emphysema, 0.0, 1.0)) * (1.0 + 0.3 * narrow);
  out.amplitude = lobe.bronchus_blocked ? 0.0 : amplitude;
  // Breathing out, sound arises nearer the middle and has further to go through lung.
  if (!in) out.pole_ratio = 0.62;
  const double brighter = in ? det::pow(clamp(x, 0.05, 6.0), 0.05) : 0.90;
  out.corner_hz = kBreathCorner_hz * scale.pitch * brighter * (1.0 + 1.0 * narrow) *
                  (1.0 - 0.06 * clamp(lobe.emphysema, 0.0, 1.0));
  return out;
}

void BreathNoise::update(const Scene& scene) noexcept {
  std::array<LobeNoise, exam::kNumLobes> lobes;
  std::array<FilterSetting, exam::kNumLobes> corners;
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    lobes[l] = lobe_noise(scene.now->lobe[l], kLobeShare[l], scene.scale);
    corners[l] = filter_setting(lobes[l].corner_hz, kBreathSourceQ, scene.sample_rate_hz);
  }
  const double white = det::sqrt(1.5 * scene.sample_rate_hz);
  const float inverse_frames = 1.0f / static_cast<float>(scene.frames);
  active_ = 0;
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    Group& group = groups_[i / kLanes];
    const std::size_t lane = i % kLanes;
    if (lane == 0) group.audible = false;
    const SourcePoint& point = scene.torso->points()[i];
    const auto l = static_cast<std::size_t>(point.lobe);
    const auto& side = scene.now->pleura[static_cast<std::size_t>(exam::side_of(point.lobe))];
    const double squeezed = side.fluid_L > 0.0 ? submerged(*scene.torso, point.at, side) : 0.0;
    const double density = kBreathDensity * lobes[l].amplitude * point.strength *
                           scene.hearing->point_gain[i] * (1.0 - 0.94 * squeezed);
    const double pole_hz = scene.hearing->point_pole_hz[i] * lobes[l].pole_ratio;
    scene.background->add({density, lobes[l].corner_hz, kBreathSourceQ, pole_hz, 0.0});
    group.filter.set(lane, corners[l]);
    if (pole_hz != pole_hz_[i]) {
      pole_hz_[i] = pole_hz;
      group.pole_a[lane] = pole_setting(pole_hz, scene.sample_rate_hz);
    }
    group.gain[lane] = group.target[lane];
    group.target[lane] = static_cast<float>(density * white);
    group.gain_step[lane] = (group.target[lane] - group.gain[lane]) * inverse_frames;
    const double loudest = density * white;
    if (loudest > kSilence * white || group.gain[lane] > static_cast<float>(kSilence * white)) {
      group.audible = true;
    }
    if (lane == kLanes - 1 && group.audible) ++active_;
  }
}

PHREN_INLINE Lanes BreathNoise::Group::step() noexcept {
  Lanes band;
  const Lanes low = filter.step(next_noise(noise), band);
  pole += pole_a * (low - pole);
  gain += gain_step;
  return pole * gain;
}

// All groups in one pass: their recursions wait for themselves, not for each other.
PHREN_SIMD_CLONES void BreathNoise::process(Lanes* out, std::size_t frames) noexcept {
  if (active_ == kGroups) {
    auto g = groups_;  // work in registers
    for (std::size_t i = 0; i < frames; ++i) {
      Lanes sum = out[i];
      for (std::size_t k = 0; k < kGroups; ++k) sum += g[k].step();
      out[i] = sum;
    }
    for (std::size_t k = 0; k < kGroups; ++k) groups_[k].keep(g[k]);
    return;
  }
  for (Group& group : groups_) {
    if (!group.audible) continue;
    Group g = group;
    for (std::size_t i = 0; i < frames; ++i) out[i] += g.step();
    group.keep(g);
  }
}

}  // namespace phren::acoustics
