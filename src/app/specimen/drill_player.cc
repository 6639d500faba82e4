#include "app/specimen/drill_player.h"

#include <algorithm>

#include "exam/place_words.h"

namespace phren::app {
namespace {

constexpr double kRate_hz = 16000.0;
// From crackles over a lobe that fills to bronchial breathing over a solid one (ENGINEERING).
constexpr double kMildestLobe = 0.5, kWorstLobe = 0.95;
// Ill enough to be heard, far from silent (ENGINEERING).
constexpr double kOtherSeverity = 0.6;

exam::Side other(exam::Side side) {
  return side == exam::Side::kRight  ? exam::Side::kLeft
         : side == exam::Side::kLeft ? exam::Side::kRight
                                     : side;
}

// The lobe in the same place of the other lung; the left lung has no middle lobe.
int other_lobe(int lobe) {
  if (lobe < 0) return lobe;
  switch (static_cast<exam::Lobe>(lobe)) {
    case exam::Lobe::kRul:
    case exam::Lobe::kRml:
      return static_cast<int>(exam::Lobe::kLul);
    case exam::Lobe::kRll:
      return static_cast<int>(exam::Lobe::kLll);
    case exam::Lobe::kLul:
      return static_cast<int>(exam::Lobe::kRul);
    case exam::Lobe::kLll:
      return static_cast<int>(exam::Lobe::kRll);
  }
  return lobe;
}

// The same illness in another person: build and severity differ a little from variant to variant.
void vary(Specimen& specimen, Seed seed) {
  RandomStream random(seed, "variant");
  auto& person = specimen.setup.person;
  person.height_cm *= random.uniform(0.96, 1.04);
  person.weight_kg *= random.uniform(0.94, 1.06);
  for (auto& condition : specimen.setup.conditions) {
    condition.severity = std::clamp(condition.severity * random.uniform(0.95, 1.04), 0.0, 1.0);
  }
}

}  // namespace

DrillPlayer::DrillPlayer(std::shared_ptr<const teaching::Library> library, Specimens specimens)
    : library_(std::move(library)), specimens_(std::move(specimens)) {}

std::vector<std::string> DrillPlayer::specimen_ids() const {
  std::vector<std::string> ids;
  for (const Specimen& one : specimens_.all()) ids.push_back(one.id);
  return ids;
}

Result<teaching::SpecimenFacts> DrillPlayer::facts(std::string_view specimen_id) const {
  const auto specimen = TRY(specimens_.find(specimen_id));
  teaching::SpecimenFacts facts{.name = specimen.name,
                                .listen = specimen.listen,
                                .mechanism = specimen.mechanism,
                                .sound = specimen.sound,
                                .phase = specimen.phase,
                                .side = exam::Side::kMidline,
                                .age_years = specimen.setup.person.age_years,
                                .is_listened_to = !specimen.is_tapped,
                                .conditions = {},
                                .company = specimen.company};
  for (const patient::ConditionUse& one : specimen.setup.conditions) {
    if (one.side != exam::Side::kMidline) facts.side = one.side;
    facts.conditions.push_back(one.id);
  }
  return facts;
}

Result<Specimen> DrillPlayer::variant_of(const teaching::DrillSound& sound) const {
  auto specimen = TRY(specimens_.find(sound.specimen_id));
  vary(specimen, Seed{sound.seed});
  if (sound.is_healthy) specimen.setup.conditions.clear();
  if (sound.seconds > 0.0) specimen.seconds = sound.seconds;
  specimen.realness = sound.realness;
  if (!sound.site_id.empty()) specimen.site_id = sound.site_id;
  auto& conditions = specimen.setup.conditions;
  if (!sound.condition_id.empty()) {
    patient::ConditionUse use;
    use.id = sound.condition_id;
    use.severity = kOtherSeverity;
    use.is_steady = true;
    if (TRY(library_->conditions.find(use.id)).needs_side) {  // where it is listened to
      use.side = exam::side_of(TRY(library_->sites.find(specimen.site_id)).at);
    }
    conditions = {use};
  }
  if (sound.lobe) {
    RandomStream random(Seed{sound.seed}, "how solid");
    for (auto& condition : conditions) {
      condition.lobe = static_cast<int>(*sound.lobe);
      condition.side = exam::side_of(*sound.lobe);
      condition.severity = random.uniform(kMildestLobe, kWorstLobe);
    }
  }
  if (sound.is_turned) {
    for (auto& condition : conditions) {
      condition.side = other(condition.side);
      condition.lobe = other_lobe(condition.lobe);
    }
  }
  if (sound.is_turned != sound.is_opposite) {
    const auto site = TRY(library_->sites.find(specimen.site_id));
    if (!site.mirror_id.empty()) specimen.site_id = site.mirror_id;
  }
  return specimen;
}

Result<DrillPlayer::SoundPtr> DrillPlayer::play(const teaching::DrillSound& sound) const {
  {
    const std::lock_guard lock(mutex_);
    const auto found = std::find_if(made_.begin(), made_.end(),
                                    [&](const auto& one) { return one.first == sound; });
    if (found != made_.end()) {
      made_.splice(made_.begin(), made_, found);
      return found->second;
    }
  }
  const auto specimen = TRY(variant_of(sound));
  auto made = TRY(make_specimen(
      specimen, Seed{sound.seed}, kRate_hz,
      {library_->conditions, library_->treatments, library_->sites, &library_->instruments}));
  auto kept = std::make_shared<const SpecimenSound>(std::move(made));
  const std::lock_guard lock(mutex_);
  made_.emplace_front(sound, kept);
  if (made_.size() > kRemembered) made_.pop_back();
  return kept;
}

Result<teaching::Listened> DrillPlayer::listen(const teaching::DrillSound& sound) const {
  const auto made = TRY(play(sound));
  return teaching::Listened{made->truth, made->heard};
}

}  // namespace phren::app
