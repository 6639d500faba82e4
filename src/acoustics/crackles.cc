#include "acoustics/crackles.h"

namespace phren::acoustics {
namespace {

using patient::LobeState;

constexpr double kFirstRatio = 0.15, kRatioStep = 0.012;
constexpr double kFineLevel = 0.130, kCoarseLevel = 0.380;  // peak near the lobe
constexpr double kShuttingLevel = 0.35;                     // expiratory against inspiratory
constexpr double kShuttingCount = 1.0 / 1.8;
constexpr double kPitchRise_hz = 80.0;  // early to late inspiration
constexpr double kVolumeJitter = 0.004;
constexpr double kLowestShut = 0.02, kLastShuts = 0.15;

// 2CD in ms at the source of an airway in mid-inspiration, by what ails the lobe.
double two_cycle_ms(const LobeState& lobe, bool fine) noexcept {
  const double scar = clamp(lobe.fibrosis, 0.0, 1.0), water = clamp(lobe.lung_water, 0.0, 1.0);
  const double pus = clamp(lobe.consolidation, 0.0, 1.0), mucus = clamp(lobe.secretions, 0.0, 1.0);
  const double sum = scar + water + pus + mucus + 0.15;
  if (fine) return (7.9 * scar + 10.4 * water + 9.6 * pus + 8.6 * mucus + 0.15 * 6.5) / sum;
  return (10.5 * scar + 16.0 * water + 11.8 * pus + 10.6 * mucus + 0.15 * 13.0) / sum;
}

}  // namespace

double crackle_wave(double t, double width_ratio) noexcept {
  if (t <= 0.0 || t >= 1.0) return 0.0;
  const double exponent = det::log(0.25) / det::log(width_ratio);
  return det::sin(4.0 * det::kPi * det::pow(t, exponent)) * 0.5 *
         (1.0 + det::cos(det::kTwoPi * (det::sqrt(t) - 0.5)));
}

Crackles::Crackles(Seed seed, const Torso& torso) noexcept : jitter_(seed, "crackle_jitter") {
  for (std::size_t s = 0; s < kShapes; ++s) {
    const double ratio = kFirstRatio + kRatioStep * static_cast<double>(s);
    for (std::size_t i = 0; i < shapes_[s].size(); ++i) {
      shapes_[s][i] = static_cast<float>(
          crackle_wave(static_cast<double>(i) / static_cast<double>(kShapeLength), ratio));
    }
  }
  RandomStream draw(seed, "crackle_airways");
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    auto& lobe = airways_[l];
    std::size_t first = 0, places = 0;
    for (std::size_t p = 0; p < kNumPoints; ++p) {
      if (static_cast<std::size_t>(torso.points()[p].lobe) != l) continue;
      if (places++ == 0) first = p;
    }
    for (std::size_t i = 0; i < kPerLobe; ++i) {
      Airway& a = lobe[i];
      const bool fine = i < kFine;
      a.z = static_cast<float>(draw.normal());
      a.gap = static_cast<float>(draw.uniform(0.10, 0.25));
      const double place = static_cast<double>(fine ? i : i - kFine);
      a.needs_count = static_cast<float>(place + draw.uniform());
      a.width_ratio = static_cast<float>(draw.uniform(0.155, 0.205));
      a.width_factor =
          static_cast<float>(clamp(draw.log_normal(1.0, fine ? 0.07 : 0.07), 0.8, 1.3));
      a.loudness = static_cast<float>(clamp(draw.log_normal(0.85, 0.40), 0.3, 2.0));
      a.negative = static_cast<float>(draw.uniform());
      a.shuts_aloud = static_cast<float>(draw.uniform());
      a.point = static_cast<std::uint8_t>(first + draw.below(static_cast<std::uint32_t>(places)));
    }
  }
}

void Crackles::pop(const Scene& scene, const Airway& airway, const Pop& what,
                   MusicalSounds& musical) noexcept {
  const LobeState& lobe = scene.now->lobe[what.lobe];
  // Small airways open last and sound highest.
  const double lateness = clamp(lobe.breath_fraction, 0.0, 1.0) - 0.5;
  const double middle_hz =
      2000.0 / (two_cycle_ms(lobe, what.fine) * static_cast<double>(airway.width_factor));
  const double pitch_hz = middle_hz + 1.6 * kPitchRise_hz * lateness;
  const double width_ms = clamp(2000.0 / pitch_hz, what.fine ? 3.2 : 10.0, what.fine ? 9.9 : 18.0);

  const std::size_t point = airway.point;
  const double level = (what.fine ? kFineLevel : kCoarseLevel) *
                       static_cast<double>(airway.loudness) *
                       (what.fine ? 1.0 - 0.62 * clamp(lobe.lung_water, 0.0, 1.0) : 1.0) *
                       (what.opening ? 1.0 : kShuttingLevel) * scene.hearing->point_gain[point];
  const bool negative = static_cast<double>(airway.negative) < (what.opening ? 0.76 : 0.31);

  TruthEvent event;
  event.sound = what.fine ? exam::Sound::kFineCrackle : exam::Sound::kCoarseCrackle;
  event.phase = scene.now->phase;
  event.region = static_cast<Region>(what.lobe);
  event.start_s = scene.start_s + what.at * scene.step_s;
  event.end_s = event.start_s + 0.001 * width_ms;
  event.two_cycle_ms = width_ms;
  event.initial_deflection_ms = width_ms * static_cast<double>(airway.width_ratio);
  event.level_above_background_db =
      transient_above_background_db(*scene.background, 2000.0 / width_ms, level);
  event.audible = event.level_above_background_db >= kTransientThreshold_db;
  if (event.level_above_background_db > -6.0) scene.truth->push(event);
  if (level < 1e-6) return;

  Voice& voice = voices_[next_voice_];
  next_voice_ = (next_voice_ + 1) % kVoices;
  voice.on = true;
  ++sounding_;
  voice.position = 0.0f;
  voice.step = static_cast<float>(static_cast<double>(kShapeLength) * 1000.0 /
                                  (width_ms * scene.sample_rate_hz));
  // The waveform's tallest peak is negative.
  voice.gain = static_cast<float>(negative ? level : -level);
  voice.shape = static_cast<std::uint16_t>(
      clamp((static_cast<double>(airway.width_ratio) - kFirstRatio) / kRatioStep + 0.5, 0.0,
            static_cast<double>(kShapes - 1)));
  voice.lane = static_cast<std::uint16_t>(what.lobe);
  voice.delay = static_cast<std::uint16_t>(what.at * static_cast<double>(scene.frames));

  const bool stiff = lobe.fibrosis > 0.3 || lobe.consolidation > 0.5;
  if (what.fine && what.opening && stiff && airway.shuts_aloud < 0.12f) {
    const double u = static_cast<double>(airway.negative);
    musical.squawk(what.lobe, 330.0 + 420.0 * u, 0.05 + 0.05 * u);
  }
}

void Crackles::update(const Scene& scene, MusicalSounds& musical) noexcept {
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    const LobeState& now = scene.now->lobe[l];
    const patient::ReopeningAirways& set = now.reopening;
    if (set.fine_count <= 0.0 && set.coarse_count <= 0.0) continue;
    const double from = scene.before->lobe[l].breath_fraction, to = now.breath_fraction;
    for (std::size_t i = 0; i < kPerLobe; ++i) {
      Airway& a = airways_[l][i];
      const bool fine = i < kFine;
      if (static_cast<double>(a.needs_count) > (fine ? set.fine_count : set.coarse_count)) continue;
      const double opens = set.opening_mean + set.opening_sd * static_cast<double>(a.z) +
                           static_cast<double>(a.shift);
      const double low = opens - static_cast<double>(a.gap);
      // Those that take part shut one after another before the breath is out.
      const double least = kLowestShut + kLastShuts * static_cast<double>(a.negative);
      const double shuts = low > least ? low : least;
      if (!started_) {
        a.open = to >= opens;
      } else if (!a.open && to >= opens && to > from) {
        a.open = true;
        pop(scene, a, {l, fine, true, clamp((opens - from) / (to - from), 0.0, 0.999)}, musical);
      } else if (a.open && to <= shuts && to < from) {
        a.open = false;
        a.shift = static_cast<float>(kVolumeJitter * jitter_.uniform(-1.0, 1.0));
        if (static_cast<double>(a.shuts_aloud) < kShuttingCount) {
          pop(scene, a, {l, fine, false, clamp((from - shuts) / (from - to), 0.0, 0.999)}, musical);
        }
      }
    }
  }
  started_ = true;
}

void Crackles::process(Lanes* lobes, std::size_t frames) noexcept {
  sounding_ = 0;
  for (Voice& v : voices_) {
    if (!v.on) continue;
    ++sounding_;
    const auto& shape = shapes_[v.shape];
    std::size_t i = v.delay;
    for (; i < frames && v.position < static_cast<float>(kShapeLength); ++i) {
      const auto index = static_cast<std::size_t>(v.position);
      const float part = v.position - static_cast<float>(index);
      lobes[i][v.lane] += v.gain * (shape[index] + part * (shape[index + 1] - shape[index]));
      v.position += v.step;
    }
    v.delay = 0;
    if (v.position >= static_cast<float>(kShapeLength)) v.on = false;
  }
}

}  // namespace phren::acoustics
