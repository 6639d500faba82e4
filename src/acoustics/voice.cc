#include "acoustics/voice.h"

namespace phren::acoustics {
namespace {

constexpr double kLevel = 0.16;
constexpr double kSyllable_s = 0.28;
// "ee" and "ah" of a man, Hz (from memory).
constexpr std::array<double, 4> kEe = {280.0, 2250.0, 2900.0, 3500.0};
constexpr std::array<double, 4> kAh = {700.0, 1150.0, 2500.0, 3500.0};
constexpr std::array<double, 4> kWeight = {1.0, 0.35, 0.2, 0.08};

double usual_pitch_hz(const patient::Person& p) noexcept {
  const double grown = p.sex == patient::Sex::kMale ? 115.0 : 205.0;
  return mix(340.0, grown, smooth_step(1.0, 16.0, p.age_years));
}

}  // namespace

VoiceSource::VoiceSource(Seed seed, const patient::Person& person) noexcept
    : jitter_(seed, "voice"),
      pitch_hz_(usual_pitch_hz(person)),
      tract_(det::pow(175.0 / clamp(person.height_cm, 45.0, 210.0), 0.6)) {}

void VoiceSource::shape_mouth(double openness, double sample_rate_hz) noexcept {
  for (std::size_t k = 0; k < formants_.size(); ++k) {
    const double f = mix(kEe[k], kAh[k], openness) * tract_;
    formants_[k].at = filter_setting(f, 9.0, sample_rate_hz);
    weight_[k] = static_cast<float>(kWeight[k] * (f < 0.4 * sample_rate_hz ? 1.0 : 0.0));
  }
}

void VoiceSource::update(const Scene& scene) noexcept {
  using patient::Voice;
  const Voice voice = scene.now->voice;
  double wanted = 0.0, openness = 0.0;
  speaking_s_ = voice == Voice::kNone ? 0.0 : speaking_s_ + scene.step_s;
  if (voice == Voice::kVowel) wanted = 1.0;
  if (voice == Voice::kSpeech) {  // syllables of counting: open and close, loud and soft
    const double turn = speaking_s_ / kSyllable_s;
    const double within = turn - static_cast<double>(static_cast<int>(turn));
    wanted = smooth_step(0.0, 0.2, within) * (1.0 - smooth_step(0.7, 1.0, within));
    openness = 0.5 + 0.5 * det::sin(1.7 * turn);
  }
  if (voice == Voice::kCough) {
    const double out = -scene.now->trachea_flow_L_per_s / scene.scale.flow_L_per_s;
    wanted = 0.8 * smooth_step(0.8, 3.0, out);
    openness = 1.0;
  }
  const double out_flow = scene.now->trachea_flow_L_per_s;
  if (voice == Voice::kVowel || voice == Voice::kSpeech) {
    wanted *= out_flow < 0.0 ? 1.0 : 0.0;  // one speaks on the way out
  }
  level_ = target_;
  target_ += (static_cast<float>(kLevel * wanted) - target_) *
             static_cast<float>(1.0 - det::exp(-scene.step_s / 0.02));
  if (target_ < 1e-7f) target_ = 0.0f;
  step_ = (target_ - level_) / static_cast<float>(scene.frames);
  if (!is_audible()) {
    finish(*scene.truth);
    return;
  }
  const double pitch = pitch_hz_ * (1.0 + 0.01 * jitter_.uniform(-1.0, 1.0)) *
                       (voice == Voice::kSpeech ? 1.0 + 0.08 * openness : 1.0);
  turn_ = static_cast<float>(clamp(pitch / scene.sample_rate_hz, 0.0, 0.25));
  shape_mouth(openness, scene.sample_rate_hz);

  const auto sound = voice == Voice::kCough           ? exam::Sound::kCough
                     : voice == Voice::kNone && open_ ? event_.sound  // dying away
                                                      : exam::Sound::kVoice;
  if (open_ && event_.sound != sound) finish(*scene.truth);
  if (!open_) {
    open_ = true;
    event_ = {};
    event_.sound = sound;
    event_.region = Region::kUpperAirway;
    event_.start_s = scene.start_s;
    event_.level_above_background_db = -60.0;
  }
  event_.end_s = scene.start_s + scene.step_s;
  event_.pitch_hz = pitch_hz_;
  const Hearing& h = *scene.hearing;
  const double through =
      h.airway.gain * h.airway.gain * low_pass_power(pitch, h.airway.peak_hz, h.airway.q) +
      h.open_gain * h.open_gain + h.neck_gain * h.neck_gain;
  const double above = tone_above_background_db(
      *scene.background, pitch, 0.5 * through * static_cast<double>(target_ * target_));
  if (above > event_.level_above_background_db) {
    event_.level_above_background_db = above;
    event_.phase = scene.now->phase;
  }
}

void VoiceSource::finish(TruthRing& truth) noexcept {
  if (!open_) return;
  open_ = false;
  event_.audible = event_.level_above_background_db > kToneThreshold_db;
  if (event_.end_s - event_.start_s > 0.05) truth.push(event_);
}

void VoiceSource::process(float* windpipe, std::size_t frames) noexcept {
  if (!is_audible()) return;
  for (std::size_t i = 0; i < frames; ++i) {
    phase_ += turn_;
    if (phase_ >= 1.0f) phase_ -= 1.0f;
    // Air flow through the vocal folds: a skewed pulse in the first six tenths of each period.
    const float x = phase_ < 0.6f ? phase_ * (1.0f / 0.6f) : 0.0f;
    const float pulse = x * x * (1.0f - x) * 6.75f - 0.34f;
    float sum = 0.35f * pulse;
    for (std::size_t k = 0; k < formants_.size(); ++k) {
      const Filter::Out out = formants_[k].step(pulse);
      sum += weight_[k] * (k == 0 ? out.low : out.band);
    }
    level_ += step_;
    windpipe[i] += level_ * sum;
  }
}

}  // namespace phren::acoustics
