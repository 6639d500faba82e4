#include "acoustics/contact.h"

namespace phren::acoustics {
namespace {

struct Place {
  double dba;
  // Density per lane at that level, relative: rumble, road, talk, hiss.
  std::array<double, 4> share;
  double siren;  // share of the level in a sweeping tone
};
constexpr std::array<Place, kNumSurroundings> kPlaces = {{
    {35.0, {0.6, 0.5, 0.5, 0.3}, 0.0},  // quiet room
    {52.0, {0.5, 0.5, 1.0, 0.5}, 0.0},  // ward
    {68.0, {1.2, 1.0, 0.7, 0.3}, 0.0},  // street
    {72.0, {2.4, 1.3, 0.5, 0.4}, 0.0},  // moving cabin
    {80.0, {1.6, 0.9, 0.4, 0.3}, 0.9},  // cabin with siren, windows closed
    {95.0, {2.0, 1.6, 0.8, 0.6}, 0.0},  // helicopter
}};
constexpr std::array<double, kLanes> kNoiseCorner_hz = {70.0,  220.0, 900.0, 2500.0,
                                                        160.0, 900.0, 500.0, 60.0};
constexpr double kGoodSeal_db = 13.0, kPoorSeal_db = 4.0;
constexpr double kOwnNoise = 4.0e-6;         // density of muscle sound, low
constexpr double kHiss = 2.0e-6;             // of the chestpiece itself, wide
constexpr double kHair = 2.5e-5;             // density at the reference flow
constexpr double kSlide = 2.2e-4;            // density at 10 cm/s
constexpr double kFluidCrossing_hz = 330.0;  // lows lost below, highs lifted above
constexpr double kMouthToRoom = 0.003;       // windpipe sound as it comes round through the air
constexpr double kClothLoss_db = 14.0;
constexpr double kBellCorner_hz = 115.0;

}  // namespace

double surroundings_dba(Surroundings place) noexcept {
  return kPlaces[static_cast<std::size_t>(place)].dba;
}

Contact::Contact(Seed seed, double sample_rate_hz) noexcept
    : sample_rate_hz_(sample_rate_hz), bell_share_(pole_setting(kBellCorner_hz, sample_rate_hz)) {
  RandomStream draw(seed, "contact_noise");
  for (std::size_t l = 0; l < kLanes; ++l) {
    noise_[l] = static_cast<std::uint32_t>(draw.bits() >> 32) | 1u;
    noise_corner_hz_[l] = kNoiseCorner_hz[l];
    noise_filter_.set(l, filter_setting(kNoiseCorner_hz[l], 0.6, sample_rate_hz));
  }
}

void Contact::add_noise_to(Background& background, double wall_gain) const noexcept {
  for (std::size_t l = 0; l < kLanes; ++l) {
    background.add({density_[l] / (wall_gain + 1e-9), noise_corner_hz_[l], 0.6, 20000.0, 0.0});
  }
}

// What does not change while chestpiece, way and room stay as they are.
void Contact::settle(const Hearing& h, const ContactState& state) noexcept {
  const double on_skin = 1.0 - clamp(state.lifted, 0.0, 1.0);
  const double pressure = clamp(state.pressure, 0.0, 1.0), cloth = clamp(state.clothing, 0.0, 1.0);
  const double seal = smooth_step(0.05, 0.6, pressure) * (1.0 - 0.7 * cloth) * on_skin;
  const double seal_db = mix(kPoorSeal_db, kGoodSeal_db, seal);
  const Place& place = kPlaces[static_cast<std::size_t>(state.surroundings)];
  const double coupling = on_skin * (0.35 + 0.65 * smooth_step(0.0, 0.5, pressure)) *
                          det::ratio_from_db(-kClothLoss_db * cloth);
  settled_.wall_gain = h.wall_gain * h.gas_gain * coupling;
  settled_.wall_pole =
      static_cast<double>(pole_setting(h.wall_pole_hz * (1.0 - 0.6 * cloth), sample_rate_hz_));
  settled_.fluid_low = det::ratio_from_db(h.fluid_low_db);
  settled_.fluid_high = det::ratio_from_db(h.fluid_high_db);
  settled_.fluid_middle = det::sqrt(settled_.fluid_low * settled_.fluid_high);
  settled_.leak = det::ratio_from_db(place.dba - kFullScale_dbspl - seal_db);
  settled_.room = kMouthToRoom * det::ratio_from_db(-seal_db);
  settled_.siren = settled_.leak * place.siren;
  has_fluid_ = has_fluid_ || h.fluid_low_db != 0.0;
  set_head(state.head, pressure);
}

void Contact::set_head(Head head, double pressure) noexcept {
  const bool bell = head == Head::kBell;
  const double stretched = bell ? smooth_step(0.6, 1.0, pressure) : 0.0;  // skin as a diaphragm
  settled_.bell = bell ? 0.9 * (1.0 - stretched) : 0.0;
  double low_cut = 25.0, high_cut = 0.42 * sample_rate_hz_;
  if (head == Head::kDiaphragm) {
    low_cut = 95.0;
    high_cut = 1600.0;
  } else if (bell) {
    low_cut = mix(30.0, 90.0, stretched);
    high_cut = mix(650.0, 1300.0, stretched);
  }
  fluid_.at = filter_setting(kFluidCrossing_hz, 0.71, sample_rate_hz_);
  high_pass_.at = filter_setting(low_cut, 0.71, sample_rate_hz_);
  low_pass_.at = filter_setting(high_cut, 0.71, sample_rate_hz_);
}

void Contact::set_noise(const Scene& scene, const ContactState& state) noexcept {
  const double on_skin = 1.0 - clamp(state.lifted, 0.0, 1.0);
  const double pressure = clamp(state.pressure, 0.0, 1.0), cloth = clamp(state.clothing, 0.0, 1.0);
  const auto& share = kPlaces[static_cast<std::size_t>(state.surroundings)].share;
  const double leak = settled_.leak;
  const double slide = kSlide * state.speed_cm_per_s / 10.0 * on_skin * (0.4 + pressure);
  double movement = scene.now->trachea_flow_L_per_s / scene.scale.flow_L_per_s;
  if (movement < 0.0) movement = -movement;
  const double rustle = cloth * on_skin * (1.0e-4 * movement + 3.0 * slide);
  // Hair grates under a light chestpiece; pressing harder (or wetting it) quiets it.
  const double hair = clamp(state.hair, 0.0, 1.0) * (1.0 - cloth) * (1.1 - pressure) * on_skin *
                      (kHair * movement + 2.0 * slide);
  density_ = {leak * share[0] * 0.050,
              leak * share[1] * 0.030,
              leak * share[2] * 0.016,
              leak * share[3] * 0.008 + kHiss,
              slide,
              0.5 * slide + hair,
              rustle,
              kOwnNoise};
  const double white = det::sqrt(1.5 * sample_rate_hz_);
  for (std::size_t l = 0; l < kLanes; ++l) {
    level_[l] = level_target_[l];
    level_target_[l] = static_cast<float>(density_[l] * white);
    level_step_[l] = (level_target_[l] - level_[l]) / static_cast<float>(scene.frames);
  }
  siren_sweep_ += scene.step_s / 4.0;  // a wail of four seconds
  if (siren_sweep_ >= 1.0) siren_sweep_ -= 1.0;
  const double up = siren_sweep_ < 0.5 ? 2.0 * siren_sweep_ : 2.0 - 2.0 * siren_sweep_;
  siren_turn_ = static_cast<float>(clamp((600.0 + 750.0 * up) / sample_rate_hz_, 0.0, 0.4));
}

void Contact::update(const Scene& scene, const ContactState& state) noexcept {
  if (scene.is_way_new || !(state == settled_for_)) {
    settle(*scene.hearing, state);
    settled_for_ = state;
  }
  const std::size_t n = scene.frames;
  gain_.aim(settled_.wall_gain, n);
  wall_pole_.aim(settled_.wall_pole, n);
  fluid_low_.aim(settled_.fluid_low, n);
  fluid_middle_.aim(settled_.fluid_middle, n);
  fluid_high_.aim(settled_.fluid_high, n);
  siren_.aim(settled_.siren, n);
  room_.aim(settled_.room, n);
  bell_.aim(settled_.bell, n);
  set_noise(scene, state);
  add_noise_to(*scene.background, settled_.wall_gain);
}

// What moves from sample to sample works in registers. Siren and bell, when off, would add exact
// zeros: the common case leaves them out.
template <bool kFluid, bool kSirenOrBell>
PHREN_INLINE void Contact::process_with(float* samples, const float* room,
                                        std::size_t frames) noexcept {
  Ramp gain = gain_, wall_pole = wall_pole_, siren = siren_, outside = room_, bell = bell_;
  Ramp fluid_low = fluid_low_, fluid_middle = fluid_middle_, fluid_high = fluid_high_;
  Filter fluid = fluid_, high_pass = high_pass_, low_pass = low_pass_;
  LaneFilter noise_filter = noise_filter_;
  LaneBits noise = noise_;
  Lanes level = level_;
  float wall = wall_, bell_state = bell_state_, siren_turns = siren_turns_;
  for (std::size_t i = 0; i < frames; ++i) {
    gain.now += gain.step;
    wall_pole.now += wall_pole.step;
    wall += wall_pole.now * (samples[i] * gain.now - wall);
    float x = wall;
    if constexpr (kFluid) {
      fluid_low.now += fluid_low.step;
      fluid_middle.now += fluid_middle.step;
      fluid_high.now += fluid_high.step;
      const Filter::Out part = fluid.step(x);
      x = fluid_low.now * part.low + fluid_middle.now * fluid.at.damping * part.band +
          fluid_high.now * part.high;
    }
    Lanes band;
    const Lanes hiss = noise_filter.step(next_noise(noise), band);
    level += level_step_;
    float heard = sum_of(hiss * level);
    outside.now += outside.step;
    if constexpr (kSirenOrBell) {
      siren_turns += siren_turn_;
      if (siren_turns >= 1.0f) siren_turns -= 1.0f;
      siren.now += siren.step;
      heard += siren.now * det::sin_cycles_f(siren_turns);
    }
    x += heard + outside.now * room[i];
    if constexpr (kSirenOrBell) {
      bell.now += bell.step;
      bell_state += bell_share_ * (x - bell_state);
      x += bell.now * bell_state;
    }
    x = low_pass.step(high_pass.step(x).high).low;
    // Beyond three quarters of full scale the chestpiece gives way smoothly.
    const float size = x < 0.0f ? -x : x;
    if (size > 0.75f) {
      const float over = size - 0.75f;
      const float soft = 0.75f + over / (1.0f + 4.0f * over);
      x = x < 0.0f ? -soft : soft;
    }
    samples[i] = x;
  }
  fluid_ = fluid;
  high_pass_ = high_pass;
  low_pass_ = low_pass;
  noise_filter_ = noise_filter;
  noise_ = noise;
  wall_ = wall;
  bell_state_ = bell_state;
  siren_turns_ = siren_turns;
}

PHREN_SIMD_CLONES void Contact::process(float* samples, const float* room,
                                        std::size_t frames) noexcept {
  const bool has_siren_or_bell = siren_.is_on() || bell_.is_on();
  if (has_fluid_) {
    process_with<true, true>(samples, room, frames);
  } else if (has_siren_or_bell) {
    process_with<false, true>(samples, room, frames);
  } else {
    process_with<false, false>(samples, room, frames);
  }
}

}  // namespace phren::acoustics
