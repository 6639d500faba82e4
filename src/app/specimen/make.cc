// Letting a body breathe until its specimen is on tape.
#include <algorithm>
#include <array>

#include "app/engine/engine.h"
#include "app/specimen/specimen.h"
#include "exam/sites.h"
#include "patient/conditions.h"

namespace phren::app {
namespace {

constexpr double kBefore_s = 30.0;
constexpr double kSettle_s = 0.3;
constexpr double kTapEvery_s = 0.9;

Result<Engine> engine_of(const Specimen& specimen, Seed seed, double sample_rate_hz,
                         const std::filesystem::path& data) {
  const auto conditions = TRY(patient::Conditions::load(data / "conditions"));
  const auto treatments = TRY(patient::Treatments::load(data / "treatments"));
  const auto config = TRY(
      at("specimen " + specimen.id, patient::configure(specimen.setup, conditions, treatments)));
  return Engine::make(config, seed, sample_rate_hz);
}

void begin(Engine& engine, Manoeuvre manoeuvre, double seconds) {
  using patient::ActionKind;
  patient::Action action;
  action.seconds = seconds + 10.0;
  switch (manoeuvre) {
    case Manoeuvre::kDeep:
      action.kind = ActionKind::kBreatheDeeply;
      break;
    case Manoeuvre::kCough:
      action.kind = ActionKind::kCough;
      break;
    case Manoeuvre::kVowel:
      action.kind = ActionKind::kSayVowel;
      break;
    case Manoeuvre::kSpeech:
      action.kind = ActionKind::kSpeak;
      break;
    case Manoeuvre::kForced:
      action.kind = ActionKind::kForcedBreath;
      break;
    default:
      return;
  }
  engine.act(action);
}

}  // namespace

Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const std::filesystem::path& data) {
  const auto sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  const auto site = TRY(at("specimen " + specimen.id, sites.find(specimen.site_id)));
  auto made = TRY(engine_of(specimen, seed, sample_rate_hz, data));
  Engine& engine = made;
  engine.skip(kBefore_s);
  const bool is_tap = specimen.manoeuvre == Manoeuvre::kTap;
  if (!is_tap) engine.chestpiece().move_to(site.at);
  begin(engine, specimen.manoeuvre, specimen.seconds);

  std::vector<float> settle(static_cast<std::size_t>(kSettle_s * sample_rate_hz));
  engine.render(settle);
  std::array<acoustics::TruthEvent, 256> events;
  engine.chestpiece().drain_truth(events);

  SpecimenSound out;
  out.audio.sample_rate_hz = sample_rate_hz;
  out.audio.samples.resize(static_cast<std::size_t>(specimen.seconds * sample_rate_hz));
  const double start_s = kBefore_s + kSettle_s;
  const auto total = out.audio.samples.size();
  const auto tap_every = static_cast<std::size_t>(kTapEvery_s * sample_rate_hz);
  for (std::size_t done = 0; done < total;) {
    const std::size_t n = std::min(tap_every, total - done);
    if (is_tap) engine.chestpiece().percuss(site.at);
    engine.render(std::span<float>(out.audio.samples).subspan(done, n));
    done += n;
    if (done == total) engine.chestpiece().finish_truth();
    const std::size_t got = engine.chestpiece().drain_truth(events);
    for (std::size_t i = 0; i < got; ++i) {
      acoustics::TruthEvent e = events[i];
      e.start_s = std::max(0.0, e.start_s - start_s);
      e.end_s = std::min(specimen.seconds, e.end_s - start_s);
      if (e.end_s > e.start_s) out.truth.push_back(e);
    }
  }
  return out;
}

}  // namespace phren::app
