#include "acoustics/realism.h"

#include "acoustics/breath_noise.h"
#include "patient/person.h"

namespace phren::acoustics {
namespace {

constexpr double kTiltMiddle_hz = 200.0;
constexpr double kMostSite_db =
    4.0;  // a place may be so much louder or fainter than the body's mean
constexpr double kBandLow_hz = 100.0, kBandHigh_hz = 700.0;
constexpr double kPeakOverMean = 1.33;  // of quiet inspiratory flow
// Mean over bases, sides and upper front, where one listens to breath.
constexpr std::array<exam::TorsoPoint, 4> kListening = {{{exam::Aspect::kBack, -0.45, 0.82},
                                                         {exam::Aspect::kBack, 0.45, 0.82},
                                                         {exam::Aspect::kBack, -0.4, 0.5},
                                                         {exam::Aspect::kFront, -0.6, 0.45}}};

// What this person moves at the top of a quiet breath in, in health.
double quiet_flow_L_per_s(const patient::Person& person) noexcept {
  const patient::Reference r = patient::reference_of(person);
  const double co2 = r.exchange_ratio * r.oxygen_use_mL_per_min;
  const double tidal_L =
      1.06 * 0.863 * co2 / 40.0 / r.respiratory_rate_per_min + 1.02 * r.dead_space_L;
  return kPeakOverMean * tidal_L * r.respiratory_rate_per_min / (60.0 * r.inspired_share);
}

Seed seed_of(Seed seed, const SkinPlace& place, std::uint64_t placing) noexcept {
  const auto whole = [](double x) {
    return static_cast<std::uint64_t>(static_cast<std::int64_t>(1024.0 * x));
  };
  std::uint64_t h = seed.value;
  for (const std::uint64_t part :
       {whole(place.angle_rad), whole(place.height_cm), whole(place.neck), placing}) {
    h = (h ^ part) * 0x9E3779B97F4A7C15ull;
    h ^= h >> 29;
  }
  return {h};
}

}  // namespace

Realism::Realism(Seed seed, const patient::Person& person, const Torso& torso,
                 double sample_rate_hz) noexcept
    : seed_(seed),
      person_(person),
      torso_(torso),
      sample_rate_hz_(sample_rate_hz),
      flutter_(seed),
      floor_(seed),
      transients_(seed, sample_rate_hz),
      handling_(seed, sample_rate_hz),
      inner_(seed, person.age_years),
      wander_draw_(seed, "level of a place") {
  wander_.start(wander_draw_);
  double power = 0.0;
  for (const exam::TorsoPoint& point : kListening) {
    const double level = reference_at(torso_.place(point));
    power += level * level / static_cast<double>(kListening.size());
  }
  body_reference_ = reference_ = det::sqrt(power);
}

// Level of quiet breathing there in health, behind the wall.
double Realism::reference_at(const SkinPlace& place) const noexcept {
  const BodyScale scale = body_scale(person_);
  const patient::Snapshot healthy{};
  const Hearing h = hear(torso_, person_, torso_.skin(place), healthy);
  const double flow = quiet_flow_L_per_s(person_);
  Background sound;
  for (std::size_t i = 0; i < kNumPoints; ++i) {
    const SourcePoint& point = torso_.points()[i];
    const auto l = static_cast<std::size_t>(point.lobe);
    patient::LobeState lobe;
    lobe.flow_L_per_s = flow * kLobeShare[l];
    const LobeNoise noise = lobe_noise(lobe, kLobeShare[l], scale);
    sound.add({kBreathDensity * noise.amplitude * point.strength * h.point_gain[i], noise.corner_hz,
               kBreathSourceQ, h.point_pole_hz[i], 0.0});
  }
  return h.wall_gain * det::sqrt(sound.power_between(kBandLow_hz, kBandHigh_hz));
}

void Realism::set_mix(const LayerMix& mix) noexcept {
  mix_ = mix;
  set_chain();
}

void Realism::set_heart(Scene& scene) const noexcept {
  if (!has_instrument_ || mix_[Layer::kHeart] <= 0.0) return;
  scene.heart_detail = mix_[Layer::kHeart];
  scene.heart_level_db = mix_[Layer::kHeart] * as_[InstrumentFigure::kHeart_db];
}

void Realism::finish(TruthRing& truth) noexcept {
  if (is_noise_open_ && body_noise_.end_s > body_noise_.start_s) truth.push(body_noise_);
  is_noise_open_ = false;
}

// One event for as long as the chestpiece lies there.
void Realism::follow_noise(const Scene& scene, bool lies) noexcept {
  if (is_noise_open_ && !lies) finish(*scene.truth);
  if (!lies || mix_[Layer::kFloor] <= 0.0) return;
  if (!is_noise_open_) {
    is_noise_open_ = true;
    body_noise_ = {};
    body_noise_.sound = exam::Sound::kBodyNoise;
    body_noise_.region = Region::kContact;
    body_noise_.phase = exam::Phase::kPause;
    body_noise_.start_s = scene.start_s;
  }
  body_noise_.end_s = scene.start_s + scene.step_s;
}

void Realism::set_instrument(const Instrument& as) noexcept {
  as_ = as;
  has_instrument_ = true;
  gain_ = static_cast<float>(det::ratio_from_db(as[InstrumentFigure::kGain_db]));
  if (placings_ > 0) {
    put_down(place_);
  } else {
    settle();
  }
}

void Realism::put_down(const SkinPlace& place) noexcept {
  place_ = place;
  ++placings_;
  const Seed placing = seed_of(seed_, place, placings_);
  RandomStream draw(placing, "placing");
  floor_placing_ = {draw.normal(0.0, as_[InstrumentFigure::kFloorSpread_db]),
                    draw.normal(0.0, as_[InstrumentFigure::kFloorTilt]),
                    band_offsets(draw, as_[InstrumentFigure::kFloorBands_db])};
  flutter_size_ = draw.log_normal(1.0, as_[InstrumentFigure::kFlutterSpread]);
  breath_bands_ = band_offsets(draw, as_[InstrumentFigure::kBreathBands_db]);
  breath_tilt_ = draw.normal(0.0, as_[InstrumentFigure::kBreathTilt]);
  whole_tilt_ = draw.normal(0.0, as_[InstrumentFigure::kWholeTilt]);
  handling_.put_down(as_, placing);
  wander_draw_ = RandomStream(placing, "level of a place");
  wander_.start(wander_draw_);
  settle();
}

void Realism::slide_to(const SkinPlace& place) noexcept {
  place_ = place;
  const double ratio = reference_at(place) / body_reference_;
  reference_ = body_reference_ *
               clamp(ratio, det::ratio_from_db(-kMostSite_db), det::ratio_from_db(kMostSite_db));
}

void Realism::settle() noexcept {
  slide_to(place_);
  set_chain();
  floor_.set_instrument(as_, floor_placing_, sample_rate_hz_);
}

void Realism::set_tilt(std::size_t lane, double db_per_octave) noexcept {
  Chain& c = chain_;
  c.filter.set(lane, filter_setting(kTiltMiddle_hz, 0.4, sample_rate_hz_));
  c.low[lane] = static_cast<float>(det::ratio_from_db(-1.4 * db_per_octave));
  c.band[lane] = 1.0f;
  c.high[lane] = static_cast<float>(det::ratio_from_db(1.6 * db_per_octave));
}

void Realism::set_chain() noexcept {
  const double coupling = mix_[Layer::kCoupling];
  set_tilt(0, coupling * breath_tilt_);
  set_tilt(7, coupling * whole_tilt_);
  const double level = response_level(as_);
  for (std::size_t k = 0; k < kNumSections; ++k) {
    const FilterSection& s = as_.response[k];
    const double gain = det::ratio_from_db(s.gain_db);
    const std::size_t lane = k + 1;
    double high = 1.0, band = 1.0, low = 1.0;
    if (s.kind == SectionKind::kHighPass) band = low = 0.0;
    if (s.kind == SectionKind::kLowPass) high = band = 0.0;
    if (s.kind == SectionKind::kPeak) band = gain;
    if (s.kind == SectionKind::kLowShelf) low = gain, band = det::sqrt(gain);
    if (s.kind == SectionKind::kHighShelf) high = gain, band = det::sqrt(gain);
    if (k == 0) high *= level, band *= level, low *= level;
    chain_.filter.set(lane, filter_setting(s.hz, s.q, sample_rate_hz_));
    chain_.high[lane] = static_cast<float>(high);
    chain_.band[lane] = static_cast<float>(band);
    chain_.low[lane] = static_cast<float>(low);
  }
}

void Realism::update(const Scene& scene, const ContactState& contact) noexcept {
  const bool is_real = has_instrument_ && !mix_.is_clean();
  is_on_ = skin_air_ > 0.0 || transients_.is_audible() ||
           (has_instrument_ &&
            (is_real || as_.has_response() || as_[InstrumentFigure::kGain_db] != 0.0));
  const SkinPoint skin = torso_.skin(place_);
  const HandlingStep at{scene, as_, contact, mix_, reference_, clamp(1.0 - skin.upper, 0.0, 1.0)};
  if (skin_air_ > 0.0) inner_.crackle_skin(at, skin_air_, transients_);
  if (!is_real) {
    wants_start_ = false;
    return;
  }
  if (wants_start_) handling_.start_recorder(at);
  wants_start_ = false;
  handling_.update(at, transients_);
  inner_.update(at, place_, transients_);
  const WalkPace pace(scene.step_s, as_[InstrumentFigure::kWander_s]);
  const double wander = as_[InstrumentFigure::kWander_db] * mix_[Layer::kCoupling] *
                        wander_.step(wander_draw_, pace.keep, pace.renew);
  if (has_flutter()) {
    std::array<double, kNumBands> bands = breath_bands_;
    for (double& one : bands) one *= mix_[Layer::kCoupling];
    flutter_.update(scene, as_, mix_[Layer::kFlutter] * flutter_size_,
                    wander + handling_.pressure_db(), bands);
  }
  const double on_skin = 1.0 - contact.lifted;
  floor_.update(scene, as_, reference_, mix_[Layer::kFloor] * (0.3 + 0.7 * on_skin),
                mix_[Layer::kMuscle] * on_skin);
  follow_noise(scene, on_skin > 0.5);
  const double wall = scene.hearing->wall_gain * scene.hearing->gas_gain + 1e-9;
  scene.background->add({floor_.density() / wall, 170.0, 0.7, 20000.0, 0.0});
}

PHREN_SIMD_CLONES void Realism::process(float* samples, std::size_t frames) noexcept {
  const bool is_real = !mix_.is_clean();
  for (std::size_t i = 0; i < frames; ++i) floor_samples_[i] = transient_samples_[i] = 0.0f;
  if (is_real && has_instrument_) floor_.make(floor_samples_.data(), frames);
  transients_.process(transient_samples_.data(), frames);
  if (!has_instrument_) {
    for (std::size_t i = 0; i < frames; ++i) samples[i] += transient_samples_[i];
    return;
  }
  LaneFilter filter = chain_.filter;
  const Lanes high = chain_.high, band_share = chain_.band, low_share = chain_.low;
  Lanes last = chain_.last;
  const float gain = gain_;
  for (std::size_t i = 0; i < frames; ++i) {
    Lanes in = {samples[i], last[0], last[1], last[2], last[3], last[4], last[5], last[6]};
    in[1] += transient_samples_[i] + floor_samples_[i];
    in += 1e-20f;
    Lanes band;
    const Lanes low = filter.step(in, band);
    const Lanes damped = filter.damping * band;
    last = high * (in - damped - low) + band_share * damped + low_share * low;
    const float x = gain * last[7];
    const float size = x < 0.0f ? -x : x;
    if (size > 0.75f) {  // the recorder's own limit
      const float over = size - 0.75f;
      const float soft = 0.75f + over / (1.0f + 4.0f * over);
      samples[i] = x < 0.0f ? -soft : soft;
    } else {
      samples[i] = x;
    }
  }
  chain_.filter = filter;
  chain_.last = last;
}

}  // namespace phren::acoustics
