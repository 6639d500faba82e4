// Sounds made by `acoustics` with the truth that travels with them, for tests of the measurer: the
// specimens, the demo cases at every site, and chests of other people with other illnesses.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>

#include "acoustics/layers.h"
#include "acoustics/types.h"
#include "base/random.h"
#include "exam/types.h"
#include "signal/audio.h"

namespace phren::app {

struct Rendered {
  std::string name;  // "bronchitis 0.7 at P7"
  exam::Site site;
  signal::Audio audio;
  std::vector<acoustics::TruthEvent> truth;  // from the start of the sound
};

// Hands over one after another.
using TakeRendered = std::function<void(const Rendered&)>;
// Clean, or as on a patient through the acoustic stethoscope's diaphragm.
using acoustics::Realness;
void render_specimens(std::span<const std::uint64_t> seeds, const TakeRendered& take,
                      Realness realness = Realness::kClean);
void render_demo_cases(Seed seed, const TakeRendered& take, Realness realness = Realness::kClean);
void render_other_chests(Seed seed, const TakeRendered& take, Realness realness = Realness::kClean);

}  // namespace phren::app
