#include "teaching/expected.h"

namespace phren::teaching {

Result<std::vector<bedside::HeardAt>> expected_at_sites(const bedside::Setup& setup,
                                                        const exam::SiteMap& sites, Seed seed) {
  auto body = TRY(patient::Patient::make(setup.patient, seed));
  auto twin = TRY(bedside::HealthyTwin::make(setup.patient, seed));
  std::vector<bedside::PlaceToHear> places;
  for (const exam::Site& site : sites.all()) places.push_back({site.at, site.id});
  auto heard =
      TRY(bedside::hear_places(body, twin, seed, places, kExpectedSeconds, setup.around.room));
  bedside::compare_sides(heard, sites);
  return heard;
}

}  // namespace phren::teaching
