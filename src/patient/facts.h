// Findings that belong to the story or the look of a condition and have no physical state behind
// them in the model: asked, or plainly visible. Everything else is computed from the body.
#pragma once

#include <cstdint>
#include <string_view>

#include "base/result.h"
#include "exam/types.h"

namespace phren::patient {

enum class Fact : std::uint8_t {
  kDyspnoea,
  kDyspnoeaOnExertion,
  kOrthopnoea,
  kParoxysmalNocturnalDyspnoea,
  kSuddenOnset,
  kPleuriticChestPain,
  kChestPain,
  kHaemoptysis,
  kFeverHistory,
  kChills,
  kRunnyNose,
  kChokingEpisode,
  kAllergenExposure,
  kChestTrauma,
  kSmokeExposure,
  kOpioidUse,
  kImmobilisationOrSurgery,
  kPreviousThromboembolism,
  kCancer,
  kHistoryAsthma,
  kHistoryCopd,
  kHistoryHeartFailure,
  kHistorySmoking,
  kHistoryMyocardialInfarction,
  kCalfPain,
  kSyncope,
  kCough,
  kBarkingCough,
  kHoarseVoice,
  kMuffledVoice,
  kDrooling,
  kFacialBurns,
  kSootInAirway,
  kPurulentSputum,
  kBloodySputum,
  kClearSputum,
  kLegOedema,
  kUnilateralLegSwelling,
  kChestWallTenderness,
  kEgophony,
  kBronchophony,
  kCount
};

struct FactInfo {
  Fact id;
  std::string_view finding;  // key of data/findings.toml
  exam::Basis basis;
};

const FactInfo& info_of(Fact fact) noexcept;
Result<Fact> parse_fact(std::string_view finding_id);

}  // namespace phren::patient
