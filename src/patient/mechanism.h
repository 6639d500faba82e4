// What disease and treatment may change in a body. Conditions and treatments are data that move
// these; the model knows nothing of condition names, so there is no script per condition.
//
// Shapes:  a Load holds one value per lobe, per side or for the whole body.
// Units:   shares run 0 (healthy) .. 1 (all of it); others are named in mechanism.cc.
// Errors:  parse_mechanism gives kInvalidArgument with the nearest known name.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

#include "base/result.h"
#include "exam/types.h"

namespace phren::patient {

enum class Mechanism : std::uint8_t {
  // per lobe
  kBronchospasm,
  kMucosalSwelling,
  kMucus,
  kConsolidation,
  kLungWater,
  kFibrosis,
  kEmphysema,
  kCollapse,
  kBronchusNarrowing,
  kBallValve,
  kPerfusionBlock,
  kShunt,
  kLowVq,
  kFineOpenings,
  kCoarseOpenings,
  // per side
  kPleuralFriction,
  kPleuralFluid_L,
  kLungLeak_L_per_s_per_cmH2O,
  kLeakValve,
  kChestWound_L_per_s_per_cmH2O,
  kFlail,
  kTubeTooDeep,
  kSubcutaneousAir,
  kSealed,
  // whole body
  kUpperSwelling,
  kUpperForeignBody,
  kSlackThroat,
  kTracheaNarrowing,
  kUpperSecretions,
  kHistamine,
  kVasodilation,
  kCapillaryLeak,
  kBloodLoss_L,
  kHeartWeakness,
  kSympatheticSurge,
  kRespiratoryDepression,
  kLungIrritation,
  kPain,
  kAnxiety,
  kFever_C,
  kAcid_mmol_per_L,
  kMuscleWeakness,
  kRetainedCo2_mmHg,
  kCoughing,
  kMoreHeartBeats_per_min,
  kStrongerHeart,
  kVasoconstriction,
  kSupraglotticSwelling,
  kPericardialFluid_L,
  kCarbonMonoxide,
  kPeriodicBreathing,
  kApnoeas,
  kParoxysms,
  kWilledBreathing,
  kTubeInGullet,
  // what devices do, whole body
  kOxygenFraction,
  kAirwayPressure_cmH2O,
  kAssistedVolume,
  kInspiratorySupport_cmH2O,
  kCompressions,
  kCount
};

inline constexpr std::size_t kFirstSideMechanism =
    static_cast<std::size_t>(Mechanism::kPleuralFriction);
inline constexpr std::size_t kFirstBodyMechanism =
    static_cast<std::size_t>(Mechanism::kUpperSwelling);
inline constexpr std::size_t kNumMechanisms = static_cast<std::size_t>(Mechanism::kCount);
inline constexpr std::size_t kNumSides = 2;

enum class Level : std::uint8_t { kLobe, kSide, kBody };
// How two causes of one mechanism add up: shares as 1-(1-a)(1-b), amounts as a+b, or the larger.
enum class Combine : std::uint8_t { kShare, kSum, kLarger };

struct MechanismInfo {
  Mechanism id;
  std::string_view name;  // as written in data files
  Combine combine;
  double low, high;  // allowed range in data and in the model
  std::string_view meaning;
};

constexpr Level level_of(Mechanism m) {
  const auto i = static_cast<std::size_t>(m);
  return i < kFirstSideMechanism   ? Level::kLobe
         : i < kFirstBodyMechanism ? Level::kSide
                                   : Level::kBody;
}
const MechanismInfo& info_of(Mechanism m) noexcept;
Result<Mechanism> parse_mechanism(std::string_view name);

struct Load {
  std::array<std::array<double, exam::kNumLobes>, kFirstSideMechanism> lobe{};
  std::array<std::array<double, kNumSides>, kFirstBodyMechanism - kFirstSideMechanism> side{};
  std::array<double, kNumMechanisms - kFirstBodyMechanism> body{};

  double at_lobe(Mechanism m, std::size_t i) const noexcept {
    return lobe[static_cast<std::size_t>(m)][i];
  }
  double at_side(Mechanism m, std::size_t s) const noexcept {
    return side[static_cast<std::size_t>(m) - kFirstSideMechanism][s];
  }
  double of_body(Mechanism m) const noexcept {
    return body[static_cast<std::size_t>(m) - kFirstBodyMechanism];
  }
  double mean_of_lobes(Mechanism m) const noexcept {
    const auto& v = lobe[static_cast<std::size_t>(m)];
    return (v[0] + v[1] + v[2] + v[3] + v[4]) / 5.0;
  }
};

constexpr std::size_t side_index(std::size_t lobe_index) {
  return lobe_index < 3 ? 0 : 1;  // right upper, middle, lower; left upper, lower
}

}  // namespace phren::patient
