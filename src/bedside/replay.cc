#include "bedside/replay.h"

#include <algorithm>
#include <array>

namespace phren::bedside {

Result<Relived> Relived::make(const EncounterLog& log, const Setup& setup, Seed seed,
                              const exam::SiteMap& sites, double sample_rate_hz) {
  auto bedside = TRY(Bedside::make(setup, seed, sample_rate_hz));
  TRY(bedside.follow(log.actions));
  auto twin = TRY(HealthyTwin::make(setup.patient, seed));
  return Relived(std::move(bedside), timeline_of(log, sites, setup.around.clothing),
                 std::move(twin), sites);
}

void Relived::run_to(double time_s, const OnSound& on_sound) {
  while (bedside_.time_s() < time_s) step(on_sound);
}

void Relived::finish(const OnSound& on_sound) {
  while (bedside_.time_s() <= performance_.end_s) step(on_sound);
  bedside_.finish();
  collect();
  find();
  performance_.at_the_end = bedside_.findings();
  look_up_to(bedside_.time_s());
  performance_.replayed = true;
}

void Relived::step(const OnSound& on_sound) {
  const double now = bedside_.time_s();
  if (now >= next_reading_s_) {
    performance_.monitor.push_back({now, bedside_.patient().monitor()});
    next_reading_s_ += 1.0;
  }
  look_up_to(now);
  const std::span<const float> sound = bedside_.step();
  const auto& stays = performance_.stays;
  while (stay_ < stays.size() && stays[stay_].end_s <= now) ++stay_;
  if (stay_ < stays.size() && stays[stay_].start_s <= now) {
    const patient::Patient& body = bedside_.patient();
    listeners_[stay_].feed(bedside_.now(), body.breathing().manoeuvre(),
                           bedside_.chestpiece().audibility(), body.step_s());
  }
  if (on_sound) on_sound(now, sound);
  collect();
}

void Relived::look_up_to(double time_s) {
  auto& looks = performance_.looks.all();
  for (; look_ < looks.size() && looks[look_].time_s <= time_s; ++look_) {
    looks[look_].there = bedside_.findings();
  }
}

void Relived::collect() {
  std::array<acoustics::TruthEvent, 64> some;
  for (std::size_t n = bedside_.drain(some); n > 0; n = bedside_.drain(some)) {
    for (std::size_t i = 0; i < n; ++i) note(some[i]);
  }
}

// What was found at each stay, in words; the places are compared with their other sides.
void Relived::find() {
  std::vector<HeardAt> found;
  for (std::size_t i = 0; i < performance_.stays.size(); ++i) {
    const Stay& stay = performance_.stays[i];
    found.push_back(listeners_[i].heard(stay.point, stay.site_id, twin_));
  }
  compare_sides(found, sites_);
  for (std::size_t i = 0; i < found.size(); ++i) performance_.stays[i].found = std::move(found[i]);
}

// An event belongs to the stay that holds its middle; what could not be heard is noted as masked.
void Relived::note(const acoustics::TruthEvent& event) {
  const double middle = (event.start_s + event.end_s) / 2.0;
  for (std::size_t i = 0; i < performance_.stays.size(); ++i) {
    Stay& stay = performance_.stays[i];
    if (middle < stay.start_s || middle >= stay.end_s) continue;
    listeners_[i].note(event);
    if (!event.audible) continue;
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
