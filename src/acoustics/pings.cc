#include "acoustics/pings.h"

namespace phren::acoustics {
namespace {

constexpr double kHeartLevel = 0.10;
// First less second sound: 2-3.5 dB at the left fourth space (739 adults); at the base the second leads.
constexpr double kSecondAtApex_db = 1.0, kSecondAtBase_db = 8.0, kFirstAtBase_db = -2.0;
constexpr double kBeatSpread_db = 1.5;  // from beat to beat
constexpr double kPulseLevel = 0.3;     // of the neck's vessels against the heart
constexpr double kRubLevel = 0.05;
constexpr double kBubbleLevel = 0.08;
constexpr double kGrain_L = 0.011;  // chest movement between two slips of the pleura, adult
constexpr float kEnd = 1e-5f;       // 100 dB below full scale
constexpr double kLongestGap_s = 0.25;

using det::absolute;

}  // namespace

void Pings::strike(const Note& note, double sample_rate_hz) noexcept {
  if (note.level < 1e-6 || note.pitch_hz > 0.4 * sample_rate_hz) return;
  Voice& v = voices_[next_];
  next_ = (next_ + 1) % kVoices;
  const double turn = det::kTwoPi * note.pitch_hz / sample_rate_hz;
  v.cosine = static_cast<float>(det::cos(turn));
  v.sine = static_cast<float>(det::sin(turn));
  v.x = 1.0f;
  v.y = 0.0f;
  v.rise = 1.0f;
  v.rise_factor = static_cast<float>(det::exp(-1.0 / (note.attack_s * sample_rate_hz)));
  v.decay_factor = static_cast<float>(det::exp(-1.0 / (note.decay_s * sample_rate_hz)));
  v.level = static_cast<float>(note.level);
  v.delay = static_cast<std::uint32_t>(note.delay_s * sample_rate_hz);
  v.to = note.to;
  v.on = true;
  ++sounding_;
}

void Pings::process(const Ways& ways, std::size_t frames) noexcept {
  sounding_ = 0;
  for (Voice& v : voices_) {
    if (!v.on) continue;
    ++sounding_;
    if (v.delay >= frames) {
      v.delay -= static_cast<std::uint32_t>(frames);
      continue;
    }
    float* out = v.to == To::kWindpipe ? ways.windpipe
                 : v.to == To::kChest  ? ways.chest
                 : v.to == To::kHeart  ? ways.heart
                                       : ways.ear;
    for (std::size_t i = v.delay; i < frames; ++i) {
      const float x = v.x * v.cosine - v.y * v.sine;
      v.y = v.x * v.sine + v.y * v.cosine;
      v.x = x;
      v.rise *= v.rise_factor;
      v.level *= v.decay_factor;
      out[i] += v.y * v.level * (1.0f - v.rise);
    }
    v.delay = 0;
    if (v.level < kEnd) v.on = false;
  }
}

BodyNotes::BodyNotes(Seed seed, const BodyScale& scale) noexcept
    : draw_(seed, "body_notes"), beats_(seed, "heart beats"), scale_(scale) {}

void BodyNotes::beat(const Scene& scene, Pings& pings) noexcept {
  const auto& heart = scene.now->heart;
  const auto& before = scene.before->heart;
  const double fs = scene.sample_rate_hz;
  const double level = kHeartLevel * clamp(heart.loudness, 0.0, 2.0);
  const double high = scene.scale.pitch;
  if (heart.beat_count != before.beat_count) {  // first sound: the inlet valves shut
    const double late = clamp(scene.step_s - heart.since_beat_s, 0.0, scene.step_s);
    if (scene.heart_detail > 0.0) return first_sound(scene, late, pings);
    pings.strike({48.0 * high, 0.030, 0.008, level, late, Pings::To::kHeart}, fs);
    pings.strike({92.0 * high, 0.020, 0.006, 0.35 * level, late + 0.012, Pings::To::kHeart}, fs);
  }
  const auto passed = [&](double t) {  // the moment t after the beat lies in this chunk
    return heart.since_beat_s >= t && heart.since_beat_s - scene.step_s < t;
  };
  if (scene.heart_detail > 0.0) {
    if (passed(heart.systole_s)) second_sound(scene, pings);
  } else if (passed(heart.systole_s)) {  // second sound: the outlet valves shut
    pings.strike({66.0 * high, 0.020, 0.004, 0.6 * level, 0.0, Pings::To::kHeart}, fs);
    pings.strike({125.0 * high, 0.012, 0.003, 0.22 * level, 0.003, Pings::To::kHeart}, fs);
    TruthEvent event;
    event.sound = exam::Sound::kHeart;
    event.phase = scene.now->phase;
    event.region = Region::kHeart;
    event.end_s = scene.start_s + 0.08;
    event.start_s = scene.start_s - heart.systole_s;
    const double peak = 0.5 * level * scene.hearing->heart_gain;
    event.level_above_background_db = transient_above_background_db(*scene.background, 60.0, peak);
    event.audible = event.level_above_background_db > kTransientThreshold_db;
    if (event.level_above_background_db > -6.0) scene.truth->push(event);
  }
  if (heart.third_sound > 0.0 && passed(heart.systole_s + 0.15)) {
    pings.strike(
        {36.0 * high, 0.035, 0.012, 0.7 * level * heart.third_sound, 0.0, Pings::To::kHeart}, fs);
  }
}

// As on a patient: each valve by itself, no two beats alike, and the pulse in the neck.
void BodyNotes::first_sound(const Scene& scene, double late, Pings& pings) noexcept {
  const auto& heart = scene.now->heart;
  const double fs = scene.sample_rate_hz, high = scene.scale.pitch;
  beat_level_ = det::ratio_from_db(scene.heart_level_db +
                                   scene.heart_detail * kBeatSpread_db * beats_.normal());
  const double level = kHeartLevel * clamp(heart.loudness, 0.0, 2.0) * beat_level_ *
                       det::ratio_from_db(kFirstAtBase_db * heart_base_);
  const double pitch = beats_.log_normal(48.0, 0.05) * high;
  const double split_s = scene.heart_detail * beats_.uniform(0.015, 0.028);
  pings.strike({pitch, 0.030, 0.008, 0.75 * level, late, Pings::To::kHeart}, fs);
  pings.strike({1.15 * pitch, 0.024, 0.008, 0.55 * level, late + split_s, Pings::To::kHeart}, fs);
  pings.strike({1.95 * pitch, 0.020, 0.006, 0.6 * level, late + 0.012, Pings::To::kHeart}, fs);
  pings.strike({2.9 * pitch, 0.012, 0.004, 0.5 * level, late + 0.010, Pings::To::kHeart}, fs);
  // The pulse of the carotid comes a tenth of a second after the first sound.
  const double neck = kPulseLevel * level * scene.hearing->neck_gain;
  pings.strike({0.8 * pitch, 0.035, 0.015, neck, late + 0.10, Pings::To::kChest}, fs);
  tell_heart(scene, exam::Sound::kFirstHeartSound, scene.start_s + late, 0.10, pitch, level);
}

void BodyNotes::second_sound(const Scene& scene, Pings& pings) noexcept {
  const auto& heart = scene.now->heart;
  const double fs = scene.sample_rate_hz, high = scene.scale.pitch;
  const double level = kHeartLevel * clamp(heart.loudness, 0.0, 2.0) * beat_level_ *
                       det::ratio_from_db(scene.heart_detail * beats_.normal() +
                                          mix(kSecondAtApex_db, kSecondAtBase_db, heart_base_));
  const double pitch = beats_.log_normal(64.0, 0.07) * high;
  // The right side's valve shuts later while breathing in.
  const double filled = clamp(scene.now->lobe[0].breath_fraction, 0.0, 1.0);
  const bool in = scene.now->phase == exam::Phase::kInspiration;
  const double split_s = scene.heart_detail * (0.012 + (in ? 0.030 * filled : 0.008 * filled));
  pings.strike({pitch, 0.020, 0.004, 0.85 * level, 0.0, Pings::To::kHeart}, fs);
  pings.strike({0.95 * pitch, 0.020, 0.004, 0.5 * level, split_s, Pings::To::kHeart}, fs);
  pings.strike({1.9 * pitch, 0.012, 0.003, 0.35 * level, 0.003, Pings::To::kHeart}, fs);
  tell_heart(scene, exam::Sound::kSecondHeartSound, scene.start_s, 0.075, pitch, level);
}

void BodyNotes::tell_heart(const Scene& scene, exam::Sound sound, double start_s, double length_s,
                           double pitch_hz, double level) noexcept {
  TruthEvent event;
  event.sound = sound;
  event.phase = scene.now->phase;
  event.region = Region::kHeart;
  event.start_s = start_s;
  event.end_s = start_s + length_s;
  event.pitch_hz = pitch_hz;
  const double peak = 0.8 * level * scene.hearing->heart_gain;
  event.level_above_background_db = transient_above_background_db(*scene.background, 60.0, peak);
  event.audible = event.level_above_background_db > kTransientThreshold_db;
  if (event.level_above_background_db > -6.0) scene.truth->push(event);
}

void BodyNotes::extend(const Scene& scene, Span& span, exam::Sound sound, Region region,
                       double pitch_hz, double peak) noexcept {
  const double above = transient_above_background_db(*scene.background, pitch_hz, peak);
  if (span.open && span.event.phase != scene.now->phase) settle(*scene.truth, span);
  if (!span.open) {
    span.open = true;
    span.event = {};
    span.event.sound = sound;
    span.event.region = region;
    span.event.phase = scene.now->phase;
    span.event.start_s = scene.start_s;
    span.event.level_above_background_db = above;
  }
  span.event.end_s = scene.start_s + 0.02;
  if (above > span.event.level_above_background_db) span.event.level_above_background_db = above;
}

void BodyNotes::settle(TruthRing& truth, Span& span) noexcept {
  span.open = false;
  span.event.audible = span.event.level_above_background_db > kTransientThreshold_db;
  if (span.event.level_above_background_db > -6.0) truth.push(span.event);
}

void BodyNotes::rub(const Scene& scene, Pings& pings) noexcept {
  for (std::size_t s = 0; s < 2; ++s) {
    const double friction = scene.now->pleura[s].friction;
    if (friction <= 0.0) continue;
    double flow = 0.0;
    for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
      const bool left = exam::side_of(static_cast<exam::Lobe>(l)) == exam::Side::kLeft;
      if (left == (s == 1)) flow += scene.now->lobe[l].flow_L_per_s;
    }
    const double speed = absolute(flow) / (0.25 * scale_.flow_L_per_s);
    moved_L_[s] += absolute(flow) * scene.step_s;
    if (moved_L_[s] < next_grain_L_[s]) continue;
    moved_L_[s] = 0.0;
    next_grain_L_[s] = kGrain_L * scale_.volume_L * draw_.uniform(0.5, 1.6);
    const double level = kRubLevel * clamp(friction, 0.0, 1.0) * smooth_step(0.05, 0.4, speed) *
                         draw_.log_normal(0.8, 0.35);
    const double pitch = draw_.uniform(130.0, 300.0);
    const double near = level * scene.hearing->pleura_gain[s];
    for (const double part : {1.0, 1.43}) {
      pings.strike(
          {pitch * part, 0.011, 0.003, near / part, 0.002 * (part - 1.0), Pings::To::kChest},
          scene.sample_rate_hz);
    }
    extend(scene, spans_[s], exam::Sound::kPleuralFrictionRub, Region::kPleura, pitch, near);
  }
}

void BodyNotes::bubble(const Scene& scene, Pings& pings) noexcept {
  const auto& upper = scene.now->upper_airway;
  if (upper.secretions <= 0.0) return;
  const double flow = absolute(upper.flow_L_per_s) / scale_.flow_L_per_s;
  if (flow < 0.04) return;
  next_bubble_s_ -= scene.step_s;
  while (next_bubble_s_ <= 0.0) {
    const double rate = 6.0 + 45.0 * clamp(upper.secretions, 0.0, 1.0) * clamp(flow, 0.0, 1.5);
    next_bubble_s_ += draw_.exponential(1.0 / rate);
    const double level = kBubbleLevel * clamp(upper.secretions, 0.0, 1.0) *
                         det::sqrt(clamp(flow, 0.0, 4.0)) * draw_.log_normal(0.7, 0.5);
    const double pitch = draw_.uniform(160.0, 520.0) * det::sqrt(scene.scale.pitch);
    pings.strike(
        {pitch, 0.012, 0.002, level, draw_.uniform(0.0, scene.step_s), Pings::To::kWindpipe},
        scene.sample_rate_hz);
    const Hearing& h = *scene.hearing;
    const double heard =
        level * det::sqrt(h.neck_gain * h.neck_gain + h.airway.gain * h.airway.gain +
                          h.open_gain * h.open_gain);
    extend(scene, spans_[2], exam::Sound::kGurgling, Region::kUpperAirway, pitch, heard);
  }
}

void BodyNotes::finish(TruthRing& truth) noexcept {
  for (Span& span : spans_) {
    if (span.open) settle(truth, span);
  }
}

void BodyNotes::update(const Scene& scene, Pings& pings) noexcept {
  beat(scene, pings);
  rub(scene, pings);
  bubble(scene, pings);
  for (Span& span : spans_) {
    if (span.open && scene.start_s > span.event.end_s + kLongestGap_s) settle(*scene.truth, span);
  }
}

}  // namespace phren::acoustics
