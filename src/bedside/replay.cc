#include "bedside/replay.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <vector>

#include "acoustics/chestpiece.h"
#include "patient/patient.h"

namespace phren::bedside {
namespace {

using acoustics::Chestpiece;
using acoustics::TruthEvent;

patient::ActionKind kind_of(Manoeuvre manoeuvre) {
  switch (manoeuvre) {
    case Manoeuvre::kBreatheNormally:
      return patient::ActionKind::kBreatheNormally;
    case Manoeuvre::kBreatheDeeply:
      return patient::ActionKind::kBreatheDeeply;
    case Manoeuvre::kHoldBreath:
      return patient::ActionKind::kHoldBreath;
    case Manoeuvre::kCough:
      return patient::ActionKind::kCough;
    case Manoeuvre::kSpeak:
      return patient::ActionKind::kSpeak;
    case Manoeuvre::kSayVowel:
      return patient::ActionKind::kSayVowel;
    case Manoeuvre::kForcedBreath:
      return patient::ActionKind::kForcedBreath;
  }
  return patient::ActionKind::kBreatheNormally;
}

using TimedBodily = std::pair<const EncounterAction*, std::optional<patient::Action>>;

// What the body feels of a deed; empty for words, looks and measurements.
Result<std::optional<patient::Action>> bodily(const Deed& deed,
                                              const patient::Treatments& treatments) {
  patient::Action action;
  if (const auto* instruct = std::get_if<Instruct>(&deed)) {
    action.kind = kind_of(instruct->manoeuvre);
    action.seconds = instruct->seconds;
    return std::optional(action);
  }
  if (const auto* posture = std::get_if<SetPosture>(&deed)) {
    action.kind = patient::ActionKind::kSetPosture;
    action.index = static_cast<int>(posture->posture);
    return std::optional(action);
  }
  const auto* treat = std::get_if<Treat>(&deed);
  const auto* stop = std::get_if<StopTreatment>(&deed);
  if (treat == nullptr && stop == nullptr) return std::optional<patient::Action>();
  const auto index = TRY(treatments.index_of(treat ? treat->treatment_id : stop->treatment_id));
  action.kind = treat ? patient::ActionKind::kTreat : patient::ActionKind::kStop;
  action.index = index;
  if (treat) action.side = treat->side;
  return std::optional(action);
}

class Rerun {
 public:
  Rerun(patient::Patient body, Chestpiece chestpiece, const ReplaySetup& setup,
        const ReplayOptions& options, Performance& result)
      : body_(std::move(body)),
        chestpiece_(std::move(chestpiece)),
        thickness_(setup.clothing_thickness),
        is_all_bare_(setup.clothing_thickness <= 0.0),
        block_(static_cast<std::size_t>(std::lround(options.sample_rate_hz * body_.step_s()))),
        start_s_(body_.time_s()),
        on_sound_(options.on_sound),
        result_(result) {
    chestpiece_.set_surroundings(setup.room);
  }

  void run(const std::vector<TimedBodily>& actions) {
    std::size_t next = 0;
    double next_sample_s = 0.0;
    for (double now = 0.0; now <= result_.end_s; now = body_.time_s() - start_s_) {
      for (; next < actions.size() && actions[next].first->time_s <= now; ++next) {
        if (actions[next].second) body_.act(*actions[next].second);
        handle(actions[next].first->deed);
      }
      if (now >= next_sample_s) {
        result_.monitor.push_back({now, body_.monitor()});
        next_sample_s += 1.0;
      }
      body_.step();
      listen(now);
    }
    chestpiece_.finish_truth();
    collect();
    result_.replayed = true;
  }

 private:
  // What the hands do with the chestpiece.
  void handle(const Deed& deed) {
    if (const auto* place = std::get_if<Place>(&deed)) {
      place_ = *place;
      touch();
      chestpiece_.move_to(place->point);
    } else if (std::holds_alternative<Lift>(deed)) {
      chestpiece_.lift();
    } else if (const auto* tap = std::get_if<Tap>(&deed)) {
      chestpiece_.percuss(tap->point);
    } else if (const auto* turn = std::get_if<TurnHead>(&deed)) {
      chestpiece_.set_head(turn->head == Head::kBell ? acoustics::Head::kBell
                                                     : acoustics::Head::kDiaphragm);
    } else if (const auto* expose = std::get_if<Expose>(&deed)) {
      if (expose->aspect) bare_.insert(*expose->aspect);
      is_all_bare_ = is_all_bare_ || !expose->aspect;
      touch();
    } else if (std::holds_alternative<Cover>(deed)) {
      bare_.clear();
      is_all_bare_ = false;
      touch();
    }
  }

  void touch() {
    if (!place_) return;
    const exam::Aspect aspect = place_->point.aspect;
    const bool is_bare = is_all_bare_ || aspect == exam::Aspect::kNeck || bare_.count(aspect) > 0;
    chestpiece_.set_clothing(is_bare ? 0.0 : thickness_);
    chestpiece_.set_pressure(place_->pressure);
  }

  void listen(double now) {
    const std::span<float> sound(samples_.data(), block_);
    chestpiece_.render(body_.snapshot(), sound);
    if (on_sound_) on_sound_(now, sound);
    collect();
  }

  void collect() {
    for (std::size_t n = chestpiece_.drain_truth(events_); n > 0;
         n = chestpiece_.drain_truth(events_)) {
      for (std::size_t i = 0; i < n; ++i) note(events_[i]);
    }
  }

  void note(const TruthEvent& event) {
    if (!event.audible) return;
    const double middle = (event.start_s + event.end_s) / 2.0 - start_s_;
    for (Stay& stay : result_.stays) {
      if (middle < stay.start_s || middle >= stay.end_s) continue;
      auto found = std::find_if(stay.heard.begin(), stay.heard.end(), [&](const HeardSound& h) {
        return h.sound == event.sound && h.phase == event.phase;
      });
      if (found == stay.heard.end()) {
        stay.heard.push_back({event.sound, event.phase, 0, 0.0, event.level_above_background_db});
        found = stay.heard.end() - 1;
      }
      ++found->events;
      found->seconds += event.end_s - event.start_s;
      found->loudest_db = std::max(found->loudest_db, event.level_above_background_db);
    }
  }

  patient::Patient body_;
  Chestpiece chestpiece_;
  double thickness_;
  bool is_all_bare_;
  std::set<exam::Aspect> bare_;
  std::optional<Place> place_;
  std::size_t block_;
  double start_s_;
  std::function<void(double, std::span<const float>)> on_sound_;
  Performance& result_;
  std::array<float, 1536> samples_{};
  std::array<TruthEvent, 64> events_{};
};

}  // namespace

Result<Performance> replay(const EncounterLog& log, const ReplaySetup& setup,
                           const ReplayData& data, const ReplayOptions& options) {
  const double per_step = options.sample_rate_hz / 128.0;
  if (!(options.sample_rate_hz >= 4000.0 && options.sample_rate_hz <= 192000.0) ||
      per_step != std::floor(per_step)) {
    return fail(out_of_range("sample_rate_hz", options.sample_rate_hz,
                             "a multiple of 128 between 4096 and 192000"));
  }
  auto config = TRY(patient::configure(setup.patient, data.conditions, data.treatments));
  std::vector<TimedBodily> actions;
  for (const EncounterAction& action : log.actions) {
    const auto felt = TRY(at("action " + action.id, bodily(action.deed, data.treatments)));
    actions.emplace_back(&action, felt);
  }
  auto body = TRY(patient::Patient::make(config, Seed{log.header.seed}));
  auto chestpiece =
      TRY(Chestpiece::make({options.sample_rate_hz, body.person(), Seed{log.header.seed}}));
  Performance result = timeline_of(log, data.sites, setup.clothing_thickness <= 0.0);
  Rerun(std::move(body), std::move(chestpiece), setup, options, result).run(actions);
  return result;
}

}  // namespace phren::bedside
