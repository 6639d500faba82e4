// Lives an encounter again: a walk over its log, from the same setup, seed and deeds, so that what was
// audible at each place is known and not taken from anyone's word.
//
// Units:   encounter time starts when the patient does (after the time with the illness before).
//          A deed takes effect at the first patient step (1/128 s) at or after its time.
//          The chestpiece hears from second 0 to the end, as in the browser, so that at the rate of
//          the browser the samples are the browser's.
// Errors:  what the setup reports; an unknown treatment names the action.
// Cost:    linear in the length of the encounter: about 1/170 of it at 48 kHz, 1/340 at 16 kHz.
#pragma once

#include <functional>
#include <span>

#include "bedside/bedside.h"
#include "bedside/listener.h"
#include "bedside/performance.h"
#include "exam/sites.h"

namespace phren::bedside {

// One encounter lived again, as far as wanted at a time.
class Relived {
 public:
  static Result<Relived> make(const EncounterLog& log, const Setup& setup, Seed seed,
                              const exam::SiteMap& sites, double sample_rate_hz);

  // Whole patient steps up to the first one at or after `time_s`; `on_sound` is given each step's
  // sound with the time at which it begins.
  using OnSound = std::function<void(double start_s, std::span<const float> sound)>;
  void run_to(double time_s, const OnSound& on_sound = {});
  // To the end; what was still sounding there ends with it.
  void finish(const OnSound& on_sound = {});

  Bedside& bedside() noexcept { return bedside_; }
  const Performance& performance() const noexcept { return performance_; }

 private:
  Relived(Bedside bedside, Performance performance, HealthyTwin twin, exam::SiteMap sites)
      : bedside_(std::move(bedside)),
        performance_(std::move(performance)),
        twin_(std::move(twin)),
        sites_(std::move(sites)),
        listeners_(performance_.stays.size()) {}
  void find();
  void step(const OnSound& on_sound);
  void look_up_to(double time_s);
  void collect();
  void note(const acoustics::TruthEvent& event);

  Bedside bedside_;
  Performance performance_;
  HealthyTwin twin_;  // the same body in health
  exam::SiteMap sites_;
  std::vector<PlaceListener> listeners_;  // of each stay
  std::size_t stay_ = 0;                  // the first that is not over
  std::size_t look_ = 0;                  // the first that is still to come
  double next_reading_s_ = 0.0;
};

struct ReplayOptions {
  double sample_rate_hz = 16000.0;  // enough for every chest sound
  Relived::OnSound on_sound;
};

Result<Performance> replay(const EncounterLog& log, const Setup& setup, const exam::SiteMap& sites,
                           const ReplayOptions& options = {});

}  // namespace phren::bedside
