#include "acoustics/layers.h"

namespace phren::acoustics {
namespace {

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

}  // namespace phren::acoustics
