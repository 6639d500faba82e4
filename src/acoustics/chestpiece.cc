#include "acoustics/chestpiece.h"

#include "acoustics/percussion.h"
#include "acoustics/renderer.h"

namespace phren::acoustics {
namespace {

struct Bound {
  const char* field;
  double value, low, high;
  const char* allowed;
};

Status check(const ChestpieceConfig& c) {
  const patient::Person& p = c.person;
  const Bound bounds[] = {
      {"sample_rate_hz", c.sample_rate_hz, 4000.0, 192000.0, "between 4000 and 192000"},
      {"person.age_years", p.age_years, 0.0, 120.0, "between 0 and 120"},
      {"person.height_cm", p.height_cm, 30.0, 250.0, "between 30 and 250"},
      {"person.weight_kg", p.weight_kg, 0.5, 400.0, "between 0.5 and 400"},
      {"person.wall_front_cm", p.wall_front_cm, 0.1, 15.0, "between 0.1 and 15"},
      {"person.wall_side_cm", p.wall_side_cm, 0.1, 15.0, "between 0.1 and 15"},
      {"person.wall_back_cm", p.wall_back_cm, 0.1, 15.0, "between 0.1 and 15"},
      {"person.half_chest_breadth_cm", p.half_chest_breadth_cm, 2.0, 40.0, "between 2 and 40"},
      {"person.chest_depth_cm", p.chest_depth_cm, 3.0, 80.0, "between 3 and 80"},
      {"person.lung_height_cm", p.lung_height_cm, 3.0, 50.0, "between 3 and 50"},
  };
  for (const Bound& b : bounds) {
    if (!(b.value >= b.low && b.value <= b.high)) {
      return fail(out_of_range(b.field, b.value, b.allowed));
    }
  }
  return {};
}

}  // namespace

Chestpiece::Chestpiece(std::unique_ptr<Renderer> renderer) noexcept
    : renderer_(std::move(renderer)) {}
Chestpiece::Chestpiece(Chestpiece&&) noexcept = default;
Chestpiece& Chestpiece::operator=(Chestpiece&&) noexcept = default;
Chestpiece::~Chestpiece() = default;

Result<Chestpiece> Chestpiece::make(const ChestpieceConfig& config) {
  TRY(check(config));
  return Chestpiece(std::make_unique<Renderer>(config));
}

void Chestpiece::move_to(const exam::TorsoPoint& point) noexcept {
  Renderer& r = *renderer_;
  r.target_place = r.torso.place(point);
  if (!r.is_placed || (r.is_lifted && r.lifted > 0.99)) {
    r.place = r.target_place;
    r.realism.put_down(r.target_place);
  } else {
    r.realism.slide_to(r.target_place);
  }
  r.is_placed = true;
  r.is_lifted = false;
}

void Chestpiece::lift() noexcept {
  renderer_->is_lifted = true;
  renderer_->realism.lift();
}
patient::Percussion Chestpiece::percuss(const exam::TorsoPoint& point) noexcept {
  Renderer& r = *renderer_;
  const Tap made = tap(r.torso, r.config.person, r.torso.skin(r.torso.place(point)), r.last);
  for (const Pings::Note& part : made.parts) r.pings.strike(part, r.config.sample_rate_hz);
  return made.note;
}
void Chestpiece::set_head(Head head) noexcept {
  renderer_->contact_state.head = head;
}
void Chestpiece::set_pressure(double pressure) noexcept {
  renderer_->contact_state.pressure = clamp(pressure, 0.0, 1.0);
}
void Chestpiece::set_clothing(double thickness) noexcept {
  renderer_->contact_state.clothing = clamp(thickness, 0.0, 1.0);
}
void Chestpiece::set_hair(double thickness) noexcept {
  renderer_->contact_state.hair = clamp(thickness, 0.0, 1.0);
}
void Chestpiece::set_skin_air(double share) noexcept {
  renderer_->realism.set_skin_air(clamp(share, 0.0, 1.0));
}
void Chestpiece::set_surroundings(Surroundings place) noexcept {
  renderer_->contact_state.surroundings = place;
}

void Chestpiece::set_instrument(const Instrument& instrument) noexcept {
  renderer_->contact_state.head = instrument.head;
  renderer_->realism.set_instrument(instrument);
}
void Chestpiece::put_instrument_away() noexcept {
  renderer_->realism.put_instrument_away();
}
void Chestpiece::set_layers(const LayerMix& mix) noexcept {
  renderer_->realism.set_mix(mix);
}
void Chestpiece::start_recorder() noexcept {
  renderer_->realism.start_recorder();
}

void Chestpiece::render(const patient::Snapshot& at_block_end, std::span<float> out) noexcept {
  renderer_->render(at_block_end, out);
}

std::size_t Chestpiece::drain_truth(std::span<TruthEvent> out) noexcept {
  return renderer_->truth.drain(out);
}

void Chestpiece::finish_truth() noexcept {
  renderer_->breath_track.finish(renderer_->truth);
  renderer_->musical.finish(renderer_->truth);
  renderer_->notes.finish(renderer_->truth);
  renderer_->voice.finish(renderer_->truth);
  renderer_->realism.finish(renderer_->truth);
}

std::uint64_t Chestpiece::truth_events_lost() const noexcept {
  return renderer_->truth.lost();
}

Chestpiece::Audibility Chestpiece::audibility() const noexcept {
  return renderer_->audibility;
}

std::size_t Chestpiece::active_groups() const noexcept {
  const Renderer& r = *renderer_;
  return r.breath.active_groups() + r.musical.active_groups() + (r.airway.is_audible() ? 1 : 0) +
         (r.paths.is_active() ? 1 : 0);
}

}  // namespace phren::acoustics
