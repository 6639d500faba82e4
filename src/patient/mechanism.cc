#include "patient/mechanism.h"

#include <cassert>
#include <string>
#include <vector>

namespace phren::patient {
namespace {

using enum Mechanism;
using enum Combine;

constexpr std::array<MechanismInfo, kNumMechanisms> kInfo{{
    {kBronchospasm, "bronchospasm", kShare, 0, 1, "airway muscle shortened; the radius shrinks"},
    {kMucosalSwelling, "mucosal_swelling", kShare, 0, 1, "swollen airway lining"},
    {kMucus, "mucus", kShare, 0, 1, "secretions in the airways of the lobe"},
    {kConsolidation, "consolidation", kShare, 0, 0.98, "alveoli filled, bronchi open"},
    {kLungWater, "lung_water", kShare, 0, 0.95, "interstitial and alveolar water not of the heart"},
    {kFibrosis, "fibrosis", kShare, 0, 0.9, "stiff scarred tissue"},
    {kEmphysema, "emphysema", kShare, 0, 0.9, "lost recoil and lost airway support"},
    {kCollapse, "collapse", kShare, 0, 0.95, "airless but not filled tissue"},
    {kBronchusNarrowing, "bronchus_narrowing", kShare, 0, 1, "a fixed narrowing; 1 is shut"},
    {kBallValve, "ball_valve", kShare, 0, 1, "the narrowing lets air in better than out"},
    {kPerfusionBlock, "perfusion_block", kShare, 0, 0.98, "share of the arteries that is blocked"},
    {kShunt, "shunt", kShare, 0, 0.9, "blood flow past airless alveoli, share of the lobe's"},
    {kLowVq, "low_vq", kShare, 0, 0.9, "blood flow past poorly ventilated alveoli, share"},
    {kFineOpenings, "fine_openings", kSum, 0, 400, "small airways reopening per breath, count"},
    {kCoarseOpenings, "coarse_openings", kSum, 0, 100,
     "larger airways reopening per breath, count"},
    {kPleuralFriction, "pleural_friction", kShare, 0, 1, "inflamed pleural surfaces that rub"},
    {kPleuralFluid_L, "pleural_fluid_L", kSum, 0, 4, "fluid in an adult's pleural space, litres"},
    {kLungLeak_L_per_s_per_cmH2O, "lung_leak_L_per_s_per_cmH2O", kSum, 0, 0.1,
     "hole from the lung to the pleural space, adult size"},
    {kLeakValve, "leak_valve", kLarger, 0, 1,
     "1 when the hole lets air only into the pleural space"},
    {kChestWound_L_per_s_per_cmH2O, "chest_wound_L_per_s_per_cmH2O", kSum, 0, 0.6,
     "hole from outside into the pleural space, or a decompression needle, adult size"},
    {kFlail, "flail", kShare, 0, 0.8, "share of the side's wall that moves the wrong way"},
    {kTubeTooDeep, "tube_too_deep", kShare, 0, 1, "a tube's tip shuts this side off"},
    {kSubcutaneousAir, "subcutaneous_air", kShare, 0, 1, "air under the skin of the chest"},
    {kSealed, "sealed", kShare, 0, 1, "a vented cover on a chest wound: air comes out, not in"},
    {kUpperSwelling, "upper_swelling", kShare, 0, 0.97,
     "swelling at larynx and below, share of area"},
    {kUpperForeignBody, "upper_foreign_body", kShare, 0, 1,
     "share of the upper airway's area taken"},
    {kSlackThroat, "slack_throat", kShare, 0, 0.97, "tongue and throat fallen back, share of area"},
    {kTracheaNarrowing, "trachea_narrowing", kShare, 0, 0.97, "narrowing within the chest, share"},
    {kUpperSecretions, "upper_secretions", kShare, 0, 1, "fluid in the throat"},
    {kHistamine, "histamine", kShare, 0, 1, "hives, flushing, swelling of the face"},
    {kVasodilation, "vasodilation", kShare, 0, 0.9, "fall of vascular resistance and venous tone"},
    {kCapillaryLeak, "capillary_leak", kShare, 0, 1, "plasma leaving the vessels"},
    {kBloodLoss_L, "blood_loss_L", kSum, -3, 3,
     "blood lost, adult size, litres; below 0: more in the vessels than usual"},
    {kHeartWeakness, "heart_weakness", kShare, 0, 0.9, "lost strength of the left ventricle"},
    {kSympatheticSurge, "sympathetic_surge", kShare, 0, 1, "adrenergic drive beyond the reflexes'"},
    {kRespiratoryDepression, "respiratory_depression", kShare, 0, 1, "drive to breathe lost"},
    {kLungIrritation, "lung_irritation", kShare, 0, 1, "reflex from the lung: fast and shallow"},
    {kPain, "pain", kShare, 0, 1, "pleuritic pain: splinting and drive"},
    {kAnxiety, "anxiety", kShare, 0, 1, "fear: drive and heart rate"},
    {kFever_C, "fever_C", kLarger, -4, 5, "temperature above 37"},
    {kAcid_mmol_per_L, "acid_mmol_per_L", kSum, 0, 20, "bicarbonate lost to fixed acid"},
    {kMuscleWeakness, "muscle_weakness", kShare, 0, 1, "respiratory muscle strength lost"},
    {kRetainedCo2_mmHg, "retained_co2_mmHg", kLarger, 0, 40,
     "long-standing rise of the CO2 set-point"},
    {kCoughing, "coughing", kShare, 0, 1, "urge to cough"},
    {kMoreHeartBeats_per_min, "more_heart_beats_per_min", kSum, 0, 80,
     "heart rate added by a drug"},
    {kStrongerHeart, "stronger_heart", kShare, 0, 1, "contractility added by a drug"},
    {kVasoconstriction, "vasoconstriction", kShare, 0, 1, "vascular tone added by a drug"},
    {kSupraglotticSwelling, "supraglottic_swelling", kShare, 0, 0.97,
     "swelling above the voice, share of area; falls shut when lying"},
    {kPericardialFluid_L, "pericardial_fluid_L", kSum, 0, 0.4, "fluid that came fast, adult size"},
    {kCarbonMonoxide, "carbon_monoxide", kShare, 0, 0.7, "share of haemoglobin taken when met"},
    {kPeriodicBreathing, "periodic_breathing", kShare, 0, 1,
     "chemical control overshoots: late news and a high gain"},
    {kApnoeas, "apnoeas", kShare, 0, 1, "pauses of breathing of the very young"},
    {kParoxysms, "paroxysms", kShare, 0, 1, "coughs in one long expiration, then a whoop"},
    {kWilledBreathing, "willed_breathing", kShare, 0, 1, "breathing driven by fear, not by gases"},
    {kTubeInGullet, "tube_in_gullet", kLarger, 0, 1, "1 when a tube lies in the oesophagus"},
    {kOxygenFraction, "oxygen_fraction", kLarger, 0, 1, "inspired oxygen fraction"},
    {kAirwayPressure_cmH2O, "airway_pressure_cmH2O", kLarger, 0, 15, "continuous airway pressure"},
    {kAssistedVolume, "assisted_volume", kLarger, 0, 2,
     "assisted breaths, share of the usual tidal volume"},
    {kInspiratorySupport_cmH2O, "inspiratory_support_cmH2O", kLarger, 0, 20,
     "airway pressure added while breathing in"},
    {kCompressions, "compressions", kLarger, 0, 1.2, "chest compressions, 1 done well"},
}};

consteval bool in_order() {
  for (std::size_t i = 0; i < kNumMechanisms; ++i) {
    if (static_cast<std::size_t>(kInfo[i].id) != i) return false;
  }
  return true;
}
static_assert(in_order(), "the table must follow the enumeration");

}  // namespace

const MechanismInfo& info_of(Mechanism m) noexcept {
  assert(m < kCount);
  return kInfo[static_cast<std::size_t>(m)];
}

Result<Mechanism> parse_mechanism(std::string_view name) {
  std::vector<std::string_view> known;
  for (const auto& info : kInfo) {
    if (info.name == name) return info.id;
    known.push_back(info.name);
  }
  return fail(ErrorCode::kInvalidArgument, "'" + std::string(name) +
                                               "' is not a mechanism of the model; see "
                                               "src/patient/mechanism.cc for the names." +
                                               did_you_mean(name, known));
}

}  // namespace phren::patient
