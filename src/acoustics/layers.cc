#include "acoustics/layers.h"

namespace phren::acoustics {
namespace {

constexpr std::array<std::string_view, 3> kRealness = {"clean", "classroom", "patient"};
constexpr std::array<std::string_view, kNumLayers> kLayers = {
    "flutter", "floor", "muscle",   "heart",   "clicks", "knocks",
    "rubs",    "hand",  "recorder", "swallow", "gut",    "coupling"};
constexpr LayerMix kClassroom{{1.0, 0.5, 0.5, 1.0, 0.25, 0.25, 0.25, 0.5, 0.0, 1.0, 0.5, 0.5}};
constexpr LayerMix kPatient{{1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0}};

}  // namespace

bool LayerMix::is_clean() const noexcept {
  for (const double a : amount) {
    if (a > 0.0) return false;
  }
  return true;
}

LayerMix mix_of(Realness realness) noexcept {
  return realness == Realness::kPatient     ? kPatient
         : realness == Realness::kClassroom ? kClassroom
                                            : LayerMix{};
}

std::string_view to_string(Realness realness) noexcept {
  return kRealness[static_cast<std::size_t>(realness)];
}

std::optional<Realness> parse_realness(std::string_view word) noexcept {
  for (std::size_t i = 0; i < kRealness.size(); ++i) {
    if (kRealness[i] == word) return static_cast<Realness>(i);
  }
  return std::nullopt;
}

std::string_view to_string(Layer layer) noexcept {
  return kLayers[static_cast<std::size_t>(layer)];
}

}  // namespace phren::acoustics
