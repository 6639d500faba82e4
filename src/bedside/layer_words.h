// What reaches a chestpiece beside breath and findings, as somebody is told who takes it away piece by piece.
#pragma once

#include <algorithm>
#include <array>
#include <string_view>

#include "acoustics/layers.h"

namespace phren::bedside {

struct LayerGroup {
  std::string_view words;
  std::array<acoustics::Layer, 3> layers;  // the first again where there are fewer
};

// Taken away in this order.
inline constexpr std::array<LayerGroup, 7> kLayerGroups = [] {
  using enum acoustics::Layer;
  return std::array<LayerGroup, 7>{
      {{"hair, skin and cloth that crack", {kClicks, kClicks, kClicks}},
       {"the hand that moves, rubs and slips", {kKnocks, kRubs, kHand}},
       {"the heart", {kHeart, kHeart, kHeart}},
       {"skin, muscles and the recorder", {kFloor, kMuscle, kRecorder}},
       {"swallowing and the gut", {kSwallow, kGut, kGut}},
       {"the flutter of the breath", {kFlutter, kFlutter, kFlutter}},
       {"how the chestpiece sits", {kCoupling, kCoupling, kCoupling}}}};
}();

inline constexpr bool kEveryLayerHasAGroup = [] {
  for (std::size_t i = 0; i < acoustics::kNumLayers; ++i) {
    const auto holds = [i](const LayerGroup& group) {
      return std::count(group.layers.begin(), group.layers.end(),
                        static_cast<acoustics::Layer>(i)) > 0;
    };
    if (std::count_if(kLayerGroups.begin(), kLayerGroups.end(), holds) != 1) return false;
  }
  return true;
}();
static_assert(kEveryLayerHasAGroup,
              "each layer must be in one group, or it could not be taken away");

}  // namespace phren::bedside
