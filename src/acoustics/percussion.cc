#include "acoustics/percussion.h"

#include "acoustics/paths.h"

namespace phren::acoustics {
namespace {

constexpr double kLevel = 0.35;

}  // namespace

Tap tap(const Torso& torso, const patient::Person& person, const SkinPoint& skin,
        const patient::Snapshot& now) noexcept {
  const Hearing h = hear(torso, person, skin, now);
  double weight = 0.0, solid = 0.0, over = 0.0;
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    const auto lobe = static_cast<std::size_t>(torso.points()[i].lobe);
    const double w = h.point_gain[i] * h.point_gain[i];
    const auto& state = now.lobe[lobe];
    weight += w;
    solid += w * clamp(state.consolidation, 0.0, 1.0);
    over += w * (0.6 * clamp(state.emphysema, 0.0, 1.0) +
                 smooth_step(0.55, 0.8, state.volume_fraction));
  }
  const auto& side = now.pleura[skin.leftness < 0.0 ? 0 : 1];
  const double fluid = side.fluid_L > 0.0 ? submerged(torso, skin.at, side) : 0.0;
  const double pneumothorax = 1.0 - h.gas_gain;
  const double heart = smooth_step(0.55, 0.75, h.heart_gain) * skin.frontness;
  Tap out;
  out.gas = (1.0 + 0.6 * clamp(over / weight, 0.0, 1.0) + 1.0 * pneumothorax) *
            (1.0 - 0.85 * solid / weight) * (1.0 - 0.97 * fluid) * (1.0 - 0.5 * heart);
  out.note = out.gas < 0.12  ? patient::Percussion::kStonyDull
             : out.gas < 0.6 ? patient::Percussion::kDull
             : out.gas > 1.5 ? patient::Percussion::kHyperresonant
                             : patient::Percussion::kResonant;
  const double air = clamp(out.gas, 0.02, 2.0);
  const double loud = kLevel * (0.35 + 0.65 * clamp(air, 0.0, 1.5)) *
                      clamp(2.5 / clamp(skin.wall_cm, 0.5, 9.0), 0.3, 1.5);
  const double pitch = 300.0 - 175.0 * clamp(air, 0.0, 1.0) - 35.0 * clamp(air - 1.0, 0.0, 1.0);
  const double ring_s = 0.008 + 0.034 * clamp(air, 0.0, 1.0) + 0.05 * clamp(air - 1.0, 0.0, 1.0);
  const double high = 1.0 / det::sqrt(torso.size());
  out.parts = {{{pitch * high, ring_s, 0.0015, loud, 0.0, Pings::To::kEar},
                {pitch * high * 1.9, 0.5 * ring_s, 0.001, 0.4 * loud, 0.0, Pings::To::kEar},
                {620.0, 0.004, 0.0006, 0.5 * kLevel, 0.0, Pings::To::kEar}}};
  return out;
}

}  // namespace phren::acoustics
