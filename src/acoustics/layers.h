// How real a chest sounds: which of the things besides breath and findings reach the chestpiece,
// and how much.
//
// Units:   an amount is 0 (off: costs nothing, changes no bit) .. 1 (as measured on real
// recordings). Source:  what the full amount is stands in data/instruments; the shares of a
// classroom are
//          ENGINEERING: loud enough to be noticed, too rare to hide a finding.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "base/words.h"

namespace phren::acoustics {

enum class Realness : std::uint8_t { kClean, kClassroom, kPatient };

enum class Layer : std::uint8_t {
  kFlutter,   // turbulence whose bands fluctuate apart from each other; the hand's pressure on it
  kFloor,     // skin, body and the recorder's own noise
  kMuscle,    // muscles of the chest wall at work
  kHeart,     // split sounds that change from beat to beat, vessels of the neck
  kClicks,    // contact: skin, hair and cloth that crack
  kKnocks,    // contact: soft knocks of a hand that moves
  kRubs,      // contact: the chestpiece slides on the skin
  kHand,      // bouts of movement, slips
  kRecorder,  // the recorder's own start and buttons
  kSwallow,
  kGut,
  kCoupling,  // how this chestpiece sits on this person: level and tilt of the whole
};
inline constexpr std::size_t kNumLayers = 12;

struct LayerMix {
  std::array<double, kNumLayers> amount{};
  double operator[](Layer layer) const noexcept { return amount[static_cast<std::size_t>(layer)]; }
  double& operator[](Layer layer) noexcept { return amount[static_cast<std::size_t>(layer)]; }
  bool is_clean() const noexcept;
};

LayerMix mix_of(Realness realness) noexcept;

}  // namespace phren::acoustics

namespace phren {

template <>
inline constexpr std::array<Word<acoustics::Realness>, 3> kWords<acoustics::Realness>{
    {{acoustics::Realness::kClean, "clean"},
     {acoustics::Realness::kClassroom, "classroom"},
     {acoustics::Realness::kPatient, "patient"}}};
template <>
inline constexpr std::array<Word<acoustics::Layer>, acoustics::kNumLayers> kWords<acoustics::Layer>{
    {{acoustics::Layer::kFlutter, "flutter"},
     {acoustics::Layer::kFloor, "floor"},
     {acoustics::Layer::kMuscle, "muscle"},
     {acoustics::Layer::kHeart, "heart"},
     {acoustics::Layer::kClicks, "clicks"},
     {acoustics::Layer::kKnocks, "knocks"},
     {acoustics::Layer::kRubs, "rubs"},
     {acoustics::Layer::kHand, "hand"},
     {acoustics::Layer::kRecorder, "recorder"},
     {acoustics::Layer::kSwallow, "swallow"},
     {acoustics::Layer::kGut, "gut"},
     {acoustics::Layer::kCoupling, "coupling"}}};

}  // namespace phren
