#include "patient/facts.h"

#include <array>
#include <string>
#include <vector>

namespace phren::patient {
namespace {

using enum Fact;
using enum exam::Basis;

constexpr std::array<FactInfo, static_cast<std::size_t>(kCount)> kFacts{{
    {kDyspnoea, "dyspnoea", kAsked},
    {kDyspnoeaOnExertion, "dyspnoea_on_exertion", kAsked},
    {kOrthopnoea, "orthopnoea", kAsked},
    {kParoxysmalNocturnalDyspnoea, "paroxysmal_nocturnal_dyspnoea", kAsked},
    {kSuddenOnset, "sudden_onset", kAsked},
    {kPleuriticChestPain, "pleuritic_chest_pain", kAsked},
    {kChestPain, "chest_pain", kAsked},
    {kHaemoptysis, "haemoptysis", kAsked},
    {kFeverHistory, "fever_history", kAsked},
    {kChills, "chills", kAsked},
    {kRunnyNose, "runny_nose", kAsked},
    {kChokingEpisode, "choking_episode", kAsked},
    {kAllergenExposure, "allergen_exposure", kAsked},
    {kChestTrauma, "chest_trauma", kAsked},
    {kSmokeExposure, "smoke_exposure", kAsked},
    {kOpioidUse, "opioid_use", kAsked},
    {kImmobilisationOrSurgery, "immobilisation_or_surgery", kAsked},
    {kPreviousThromboembolism, "previous_thromboembolism", kAsked},
    {kCancer, "cancer", kAsked},
    {kHistoryAsthma, "history_asthma", kAsked},
    {kHistoryCopd, "history_copd", kAsked},
    {kHistoryHeartFailure, "history_heart_failure", kAsked},
    {kHistorySmoking, "history_smoking", kAsked},
    {kHistoryMyocardialInfarction, "history_myocardial_infarction", kAsked},
    {kCalfPain, "calf_pain", kAsked},
    {kSyncope, "syncope", kAsked},
    {kCough, "cough", kAsked},
    {kBarkingCough, "barking_cough", kHeard},
    {kHoarseVoice, "hoarse_voice", kHeard},
    {kMuffledVoice, "muffled_voice", kHeard},
    {kDrooling, "drooling", kSeen},
    {kFacialBurns, "facial_burns", kSeen},
    {kSootInAirway, "soot_in_airway", kSeen},
    {kPurulentSputum, "purulent_sputum", kSeen},
    {kBloodySputum, "bloody_sputum", kSeen},
    {kClearSputum, "clear_sputum", kSeen},
    {kLegOedema, "leg_oedema", kSeen},
    {kUnilateralLegSwelling, "unilateral_leg_swelling", kSeen},
    {kChestWallTenderness, "chest_wall_tenderness", kFelt},
    {kEgophony, "egophony", kHeard},
    {kBronchophony, "bronchophony", kHeard},
}};

consteval bool in_order() {
  for (std::size_t i = 0; i < kFacts.size(); ++i) {
    if (static_cast<std::size_t>(kFacts[i].id) != i) return false;
  }
  return true;
}
static_assert(in_order(), "the table must follow the enumeration");

}  // namespace

const FactInfo& info_of(Fact fact) noexcept {
  return kFacts[static_cast<std::size_t>(fact)];
}

Result<Fact> parse_fact(std::string_view id) {
  std::vector<std::string_view> known;
  for (const FactInfo& f : kFacts) {
    if (f.finding == id) return f.id;
    known.push_back(f.finding);
  }
  return fail(ErrorCode::kInvalidArgument,
              "'" + std::string(id) +
                  "' is not a finding that a condition can state; the others "
                  "are computed from the body." +
                  did_you_mean(id, known));
}

}  // namespace phren::patient
