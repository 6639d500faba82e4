// Letting a body breathe until its specimen is on tape.
#include <algorithm>
#include <array>
#include <string>

#include "app/specimen/specimen.h"
#include "bedside/bedside.h"
#include "bedside/listener.h"
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

// Takes the truth that has come up since the last call, in the time of the sound.
void collect(bedside::Bedside& bedside, double start_s, double seconds, SpecimenSound& to,
             bedside::PlaceListener& listener) {
  std::array<acoustics::TruthEvent, 128> events;
  for (std::size_t n = bedside.drain(events); n > 0; n = bedside.drain(events)) {
    for (std::size_t i = 0; i < n; ++i) {
      acoustics::TruthEvent event = events[i];
      event.start_s = std::max(0.0, event.start_s - start_s);
      event.end_s = std::min(seconds, event.end_s - start_s);
      if (event.end_s <= event.start_s) continue;
      listener.note(event);
      to.truth.push_back(event);
    }
  }
}

}  // namespace

Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const SpecimenData& data) {
  const std::string where = "specimen " + specimen.id;
  const auto site = TRY(at(where, data.sites.find(specimen.site_id)));
  const auto setup = TRY(at(where, bedside::prepare(specimen.setup, {}, {}, data.conditions,
                                                    data.treatments, data.instruments)));
  auto bedside = TRY(bedside::Bedside::make(setup, seed, sample_rate_hz));
  bedside.skip(kBefore_s);
  const double start_s = bedside.time_s() + kSettle_s;
  if (specimen.is_tapped) {
    TRY(bedside.follow(taps(site.at, start_s, start_s + specimen.seconds)));
  } else {
    if (specimen.realness != acoustics::Realness::kClean) {
      const bedside::Listen listen{specimen.realness, "", {}};
      TRY(at(where, bedside.check(listen)));
      bedside.perform(listen);
    }
    bedside.perform(bedside::Place{site.at});
    bedside.perform(bedside::Instruct{specimen.manoeuvre, specimen.seconds + 10.0});
  }
  std::vector<float> settle(static_cast<std::size_t>(kSettle_s * sample_rate_hz));
  bedside.render(settle);

  SpecimenSound out;
  bedside::PlaceListener listener;
  out.audio.sample_rate_hz = sample_rate_hz;
  out.audio.samples.resize(static_cast<std::size_t>(specimen.seconds * sample_rate_hz));
  const std::span<float> samples(out.audio.samples);
  const double step_s = bedside.patient().step_s();
  const auto step = static_cast<std::size_t>(step_s * sample_rate_hz);
  for (std::size_t done = 0; done < samples.size(); done += step) {
    bedside.render(samples.subspan(done, std::min(step, samples.size() - done)));
    listener.feed(bedside.now(), bedside.patient().breathing().manoeuvre(),
                  bedside.chestpiece().audibility(), step_s);
    collect(bedside, start_s, specimen.seconds, out, listener);
  }
  bedside.finish();
  collect(bedside, start_s, specimen.seconds, out, listener);
  std::stable_sort(out.truth.begin(), out.truth.end(),
                   [](const auto& a, const auto& b) { return a.start_s < b.start_s; });
  if (!specimen.is_tapped) {
    auto twin = TRY(bedside::HealthyTwin::make(setup.patient, seed));
    out.heard = listener.heard(site.at, site.id, twin);
  }
  return out;
}

Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const std::filesystem::path& data) {
  const auto conditions = TRY(patient::Conditions::load(data / "conditions"));
  const auto treatments = TRY(patient::Treatments::load(data / "treatments"));
  const auto sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  const auto instruments = TRY(acoustics::Instruments::load(data / "instruments"));
  return make_specimen(specimen, seed, sample_rate_hz,
                       {conditions, treatments, sites, &instruments});
}

}  // namespace phren::app
