#include "bedside/listener.h"

#include <algorithm>
#include <array>

#include "acoustics/scene.h"
#include "base/det_math.h"

namespace phren::bedside {
namespace {

using acoustics::Chestpiece;
using exam::Phase;
using exam::Sound;

constexpr double kLeastPart_s = 0.3;    // of a breath in, for a level without a whole one
constexpr double kStartsWith_s = 0.05;  // a phase listened to from its first moments on is whole
constexpr double kHealthyBefore_s = 60.0;
constexpr double kTwinRate_hz = 4096.0;  // levels do not depend on the rate; 32 frames a step
constexpr double kHearRate_hz = 8192.0;
constexpr double kLead_s = 0.3;  // before a breath in: the chestpiece settles
constexpr double kLongestSearch_s = 40.0;
constexpr int kTwinBreaths = 2;
constexpr std::size_t kMostFrames = 512;

bool counts(patient::Manoeuvre manoeuvre) {
  return manoeuvre == patient::Manoeuvre::kTidal || manoeuvre == patient::Manoeuvre::kDeep;
}

// Sounds of illness; those of the heart, the voice, the hand and the room are none.
bool is_added(Sound sound) {
  switch (sound) {
    case Sound::kWheeze:
    case Sound::kRhonchus:
    case Sound::kStridor:
    case Sound::kSquawk:
    case Sound::kFineCrackle:
    case Sound::kCoarseCrackle:
    case Sound::kPleuralFrictionRub:
    case Sound::kGrunting:
    case Sound::kGurgling:
      return true;
    default:
      return false;
  }
}

double threshold_db(Sound sound) {
  const bool is_tone = sound == Sound::kWheeze || sound == Sound::kRhonchus ||
                       sound == Sound::kStridor || sound == Sound::kSquawk ||
                       sound == Sound::kGrunting;
  return is_tone ? acoustics::kToneThreshold_db : acoustics::kTransientThreshold_db;
}

// Whose lung a sound arises in: 0 right, 1 left, 2 neither or not known.
std::size_t origin_of(acoustics::Region region) {
  const auto lobe = static_cast<std::size_t>(region);
  return lobe < exam::kNumLobes ? patient::side_index(lobe) : 2;
}

// The body's next breaths in, each with a little of what went before.
std::vector<patient::Snapshot> breaths_in(patient::Patient& body, int count,
                                          patient::Manoeuvre wanted) {
  std::vector<patient::Snapshot> out, lead;
  const auto most_lead = static_cast<std::size_t>(kLead_s / body.step_s());
  const double until_s = body.time_s() + kLongestSearch_s;
  bool is_inside = false;
  while (count > 0 && body.time_s() < until_s) {
    body.step();
    const patient::Snapshot now = body.snapshot();
    const bool starts = now.phase == Phase::kInspiration && now.since_phase_s < kStartsWith_s;
    if (!is_inside && starts && body.breathing().manoeuvre() == wanted) {
      out.insert(out.end(), lead.begin(), lead.end());
      is_inside = true;
    }
    if (is_inside) out.push_back(now);
    if (is_inside && now.phase != Phase::kInspiration) {
      is_inside = false;
      --count;
    }
    lead.push_back(now);
    if (lead.size() > most_lead) lead.erase(lead.begin());
  }
  return out;
}

}  // namespace

void BreathMeter::close_phase(Phase phase) noexcept {
  if (phase == Phase::kInspiration && !is_spoiled_) {
    Sum& to = is_open_whole_ ? whole_ : part_;
    to.power += open_.power;
    to.seconds += open_.seconds;
  }
  open_ = {};
  if (!is_open_whole_ || is_spoiled_) return;
  if (phase == Phase::kInspiration) {
    in_s_ += phase_s_;
    ++ins_;
  } else if (phase == Phase::kExpiration) {
    out_s_ += phase_s_;
    ++outs_;
  }
}

void BreathMeter::feed(const patient::Snapshot& now, patient::Manoeuvre manoeuvre,
                       const Chestpiece::Audibility& heard, double step_s) noexcept {
  if (now.phase != phase_ || phase_s_ == 0.0) {
    if (phase_s_ > 0.0) close_phase(phase_);
    phase_ = now.phase;
    phase_s_ = 0.0;
    is_open_whole_ = now.since_phase_s < kStartsWith_s;
    is_spoiled_ = false;
  }
  phase_s_ += step_s;
  if (!counts(manoeuvre) || now.voice != patient::Voice::kNone) is_spoiled_ = true;
  if (is_spoiled_) return;
  counted_s_ += step_s;
  if (heard.breath_is_audible) audible_s_ += step_s;
  if (now.phase != Phase::kInspiration) return;
  open_.power += heard.breath_mean_square * step_s;
  open_.seconds += step_s;
  inspired_s_ += step_s;
  if (manoeuvre == patient::Manoeuvre::kDeep) deep_s_ += step_s;
}

std::optional<double> BreathMeter::inspired_power() const noexcept {
  if (whole_.seconds > 0.0) return whole_.power / whole_.seconds;
  const bool is_open = phase_ == Phase::kInspiration && !is_spoiled_;
  const double seconds = part_.seconds + (is_open ? open_.seconds : 0.0);
  if (seconds < kLeastPart_s) return std::nullopt;
  return (part_.power + (is_open ? open_.power : 0.0)) / seconds;
}

std::optional<double> BreathMeter::out_over_in() const noexcept {
  if (ins_ == 0 || outs_ == 0) return std::nullopt;
  return out_s_ / outs_ / (in_s_ / ins_);
}

Result<HealthyTwin> HealthyTwin::make(const patient::PatientConfig& config, Seed seed) {
  patient::PatientConfig healthy = config;
  healthy.conditions.clear();
  healthy.begun.clear();  // nobody treats the well
  healthy.before_s = kHealthyBefore_s;
  auto body = patient::Patient::make(healthy, seed);
  if (!body) return fail(body.error());
  // What inspired_power() needs later cannot fail any more once this person has been taken here.
  const auto piece = Chestpiece::make({kTwinRate_hz, body->person(), seed});
  if (!piece) return fail(piece.error());
  HealthyTwin twin(body->person(), seed, body->step_s());
  twin.quiet_ = breaths_in(*body, kTwinBreaths, patient::Manoeuvre::kTidal);
  body->act(patient::Action::ask(patient::Manoeuvre::kDeep, kLongestSearch_s));
  twin.deep_ = breaths_in(*body, kTwinBreaths, patient::Manoeuvre::kDeep);
  return twin;
}

double HealthyTwin::inspired_power(const exam::TorsoPoint& point, bool is_deep) {
  const auto key = std::make_tuple(static_cast<int>(point.aspect), point.u, point.v, is_deep);
  if (const auto found = known_.find(key); found != known_.end()) return found->second;
  auto piece = Chestpiece::make({kTwinRate_hz, person_, seed_});
  if (!piece) return 0.0;  // make() has tried it
  piece->move_to(point);
  BreathMeter meter;
  std::array<float, kMostFrames> samples{};
  const auto frames = std::min(static_cast<std::size_t>(kTwinRate_hz * step_s_), kMostFrames);
  for (const patient::Snapshot& now : is_deep ? deep_ : quiet_) {
    piece->render(now, std::span<float>(samples.data(), frames));
    meter.feed(now, patient::Manoeuvre::kTidal, piece->audibility(), step_s_);
  }
  const double power = meter.inspired_power().value_or(0.0);
  known_[key] = power;
  return power;
}

void PlaceListener::feed(const patient::Snapshot& now, patient::Manoeuvre manoeuvre,
                         const Chestpiece::Audibility& heard, double step_s) noexcept {
  seconds_ += step_s;
  meter_.feed(now, manoeuvre, heard, step_s);
}

void PlaceListener::note(const acoustics::TruthEvent& event) {
  const bool is_out = event.phase != Phase::kInspiration;
  const double seconds = event.end_s - event.start_s;
  if (!is_added(event.sound)) {
    const std::size_t kind = event.sound == Sound::kNormal      ? 0
                             : event.sound == Sound::kBronchial ? 1
                             : event.sound == Sound::kTracheal  ? 2
                                                                : 3;
    if (kind < 3) breath_s_[is_out ? 1 : 0][kind] += seconds;
    return;
  }
  auto found = std::find_if(added_.begin(), added_.end(),
                            [&](const Heard& one) { return one.sound.sound == event.sound; });
  if (found == added_.end()) found = added_.insert(added_.end(), Heard{{event.sound, {}, {}}, {}});
  InPhase& part = is_out ? found->sound.out : found->sound.in;
  ++part.events;
  part.over_hiding_db =
      std::max(part.over_hiding_db, event.level_above_background_db - threshold_db(event.sound));
  if (!event.audible) return;
  ++part.audible;
  part.audible_s += seconds;
  found->from[origin_of(event.region)] += seconds;
}

HeardAt PlaceListener::heard(const exam::TorsoPoint& point, std::string site_id,
                             HealthyTwin& twin) const {
  HeardAt out;
  out.point = point;
  out.site_id = std::move(site_id);
  out.seconds = seconds_;
  out.is_breath_audible = meter_.is_audible();
  for (const auto& phase : breath_s_) {
    const double all = phase[0] + phase[1] + phase[2];
    if (all <= 0.0) continue;
    if (2.0 * phase[1] > all) out.breath = Sound::kBronchial;
    if (2.0 * phase[2] > all && out.breath == Sound::kNormal) out.breath = Sound::kTracheal;
  }
  out.out_over_in = meter_.out_over_in();
  out.is_prolonged = out.out_over_in && *out.out_over_in >= kProlongedRatio;
  if (const auto power = meter_.inspired_power()) {
    const double healthy = twin.inspired_power(point, meter_.is_deep());
    out.level_db = 10.0 * det::log10(*power + 1e-14);
    out.below_health_db = 10.0 * det::log10(healthy + 1e-14) - *out.level_db;
    out.loudness = loudness_of(*out.below_health_db, out.is_breath_audible);
  } else if (meter_.is_still()) {
    out.loudness = Loudness::kAbsent;
  }
  const exam::Side here = exam::side_of(point);
  for (const Heard& one : added_) {
    AddedSound added = one.sound;
    const double all = one.from[0] + one.from[1] + one.from[2];
    const double across = here == exam::Side::kRight ? one.from[1] : one.from[0];
    if (here != exam::Side::kMidline && all > 0.0 && across >= kCarriedShare * all) {
      added.carried_from = here == exam::Side::kRight ? exam::Side::kLeft : exam::Side::kRight;
    }
    out.added.push_back(added);
  }
  std::stable_sort(out.added.begin(), out.added.end(),
                   [seconds = seconds_](const AddedSound& a, const AddedSound& b) {
                     if (a.is_noticed() != b.is_noticed()) return a.is_noticed();
                     return a.prominence_db(seconds) > b.prominence_db(seconds);
                   });
  return out;
}

Result<std::vector<HeardAt>> hear_places(patient::Patient body, HealthyTwin& twin, Seed seed,
                                         std::span<const PlaceToHear> places, double seconds,
                                         acoustics::Surroundings room) {
  if (!(seconds > 0.0 && seconds <= 600.0)) {
    return fail(out_of_range("seconds", seconds, "more than 0 and at most 600"));
  }
  const double step_s = body.step_s();
  struct Moment {
    patient::Snapshot now;
    patient::Manoeuvre manoeuvre;
  };
  std::vector<Moment> moments;
  const auto steps = static_cast<std::size_t>(seconds / step_s);
  for (std::size_t i = 0; i < steps; ++i) {
    body.step();
    moments.push_back({body.snapshot(), body.breathing().manoeuvre()});
  }
  const auto frames = std::min(static_cast<std::size_t>(kHearRate_hz * step_s), kMostFrames);
  std::array<float, kMostFrames> samples{};
  std::array<acoustics::TruthEvent, 64> events{};
  std::vector<HeardAt> out;
  for (const PlaceToHear& place : places) {
    auto piece = Chestpiece::make({kHearRate_hz, body.person(), seed});
    if (!piece) return fail(piece.error());
    piece->set_surroundings(room);
    piece->move_to(place.point);
    PlaceListener listener;
    const auto collect = [&] {
      for (std::size_t n = piece->drain_truth(events); n > 0; n = piece->drain_truth(events)) {
        for (std::size_t i = 0; i < n; ++i) listener.note(events[i]);
      }
    };
    for (const Moment& moment : moments) {
      piece->render(moment.now, std::span<float>(samples.data(), frames));
      listener.feed(moment.now, moment.manoeuvre, piece->audibility(), step_s);
      collect();
    }
    piece->finish_truth();
    collect();
    out.push_back(listener.heard(place.point, place.site_id, twin));
  }
  return out;
}

}  // namespace phren::bedside
