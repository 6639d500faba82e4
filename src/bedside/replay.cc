#include "bedside/replay.h"

#include <algorithm>
#include <array>

namespace phren::bedside {

Result<Relived> Relived::make(const EncounterLog& log, const Setup& setup, Seed seed,
                              const exam::SiteMap& sites, double sample_rate_hz) {
  auto bedside = TRY(Bedside::make(setup, seed, sample_rate_hz));
  TRY(bedside.follow(log.actions));
  return Relived(std::move(bedside), timeline_of(log, sites, setup.around.clothing));
}

void Relived::run_to(double time_s, const OnSound& on_sound) {
  while (bedside_.time_s() < time_s) step(on_sound);
}

void Relived::finish(const OnSound& on_sound) {
  while (bedside_.time_s() <= performance_.end_s) step(on_sound);
  bedside_.finish();
  collect();
  performance_.replayed = true;
}

void Relived::step(const OnSound& on_sound) {
  const double now = bedside_.time_s();
  if (now >= next_reading_s_) {
    performance_.monitor.push_back({now, bedside_.patient().monitor()});
    next_reading_s_ += 1.0;
  }
  const std::span<const float> sound = bedside_.step();
  if (on_sound) on_sound(now, sound);
  collect();
}

void Relived::collect() {
  std::array<acoustics::TruthEvent, 64> some;
  for (std::size_t n = bedside_.drain(some); n > 0; n = bedside_.drain(some)) {
    for (std::size_t i = 0; i < n; ++i) note(some[i]);
  }
}

// An event belongs to the stay that holds its middle; what could not be heard belongs to none.
void Relived::note(const acoustics::TruthEvent& event) {
  if (!event.audible) return;
  const double middle = (event.start_s + event.end_s) / 2.0;
  for (Stay& stay : performance_.stays) {
    if (middle < stay.start_s || middle >= stay.end_s) continue;
    auto found = std::find_if(stay.heard.begin(), stay.heard.end(), [&](const HeardSound& h) {
      return h.sound == event.sound && h.phase == event.phase;
    });
    if (found == stay.heard.end()) {
      stay.heard.push_back({event.sound, event.phase});
      found = stay.heard.end() - 1;
      found->loudest_db = event.level_above_background_db;
    }
    ++found->events;
    found->seconds += event.end_s - event.start_s;
    found->loudest_db = std::max(found->loudest_db, event.level_above_background_db);
    found->sum_db += event.level_above_background_db;
    ++found->regions[static_cast<std::size_t>(event.region)];
  }
}

Result<Performance> replay(const EncounterLog& log, const Setup& setup, const exam::SiteMap& sites,
                           const ReplayOptions& options) {
  auto again = TRY(Relived::make(log, setup, Seed{log.header.seed}, sites, options.sample_rate_hz));
  again.finish(options.on_sound);
  return again.performance();
}

}  // namespace phren::bedside
