// Letting a body breathe until its specimen is on tape.
#include <string>

#include "app/specimen/specimen.h"
#include "bedside/recording.h"
#include "exam/sites.h"
#include "patient/conditions.h"

namespace phren::app {
namespace {

constexpr double kBefore_s = 30.0;
constexpr double kSettle_s = 0.3;
constexpr double kTapEvery_s = 0.9;

std::vector<bedside::EncounterAction> taps(const exam::TorsoPoint& point, double from_s,
                                           double to_s) {
  std::vector<bedside::EncounterAction> out;
  for (double t = from_s; t < to_s; t += kTapEvery_s) {
    out.push_back({"tap" + std::to_string(out.size()), t, bedside::Tap{point}});
  }
  return out;
}

}  // namespace

Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const std::filesystem::path& data) {
  const auto sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  const auto conditions = TRY(patient::Conditions::load(data / "conditions"));
  const auto treatments = TRY(patient::Treatments::load(data / "treatments"));
  const std::string where = "specimen " + specimen.id;
  const auto site = TRY(at(where, sites.find(specimen.site_id)));
  const auto setup =
      TRY(at(where, bedside::prepare(specimen.setup, {}, {}, conditions, treatments)));
  auto bedside = TRY(bedside::Bedside::make(setup, seed, sample_rate_hz));
  bedside.skip(kBefore_s);
  if (specimen.is_tapped) {
    const double from_s = bedside.time_s() + kSettle_s;
    TRY(bedside.follow(taps(site.at, from_s, from_s + specimen.seconds)));
  } else {
    bedside.perform(bedside::Place{site.at});
    bedside.perform(bedside::Instruct{specimen.manoeuvre, specimen.seconds + 10.0});
  }
  bedside::Recording made = bedside::take(bedside, specimen.seconds, kSettle_s);
  return SpecimenSound{{made.sample_rate_hz, std::move(made.samples)}, std::move(made.events)};
}

}  // namespace phren::app
