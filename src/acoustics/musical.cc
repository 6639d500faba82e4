#include "acoustics/musical.h"

namespace phren::acoustics {
namespace {

constexpr std::size_t kUpperAirway = exam::kNumLobes;  // "lobe" of the larynx
constexpr double kHighest_hz = 1600.0;                 // of a wheeze (Gavriely 1984, from memory)
// Amplitude near a lobe that sings at the values below. Stretches that experts label wheeze are 6
// dB (quartiles 1 and 11) louder than the normal breaths of the same recording: 98 recordings of
// SPRSound (training/wheeze_level.py).
constexpr double kWheezeLevel = 0.11;
constexpr double kWheezeSpeed_m_per_s = 15.0;
constexpr double kWheezeFlow_L_per_s = 0.05;  // through one lobe of an adult
constexpr double kSlowest_m_per_s = 1.8;      // no flutter below
constexpr double kLeastFlow_L_per_s = 0.004;
// A sound airway begins to flatten and is flat at such a pressure around it; one that disease has narrowed by
// so much of its radius, or something in it of its lumen, needs none.
constexpr double kFlattens_cmH2O = 6.0, kFlat_cmH2O = 12.0;
constexpr double kHardlyNarrow = 0.02, kNarrow = 0.10;
constexpr double kInspiratorySpeed_m_per_s = 11.0;
constexpr double kInspiratoryShare = 0.5;  // of the loudness: the walls are held open on the way in
constexpr double kRhonchusLevel = 0.030;
constexpr double kBridgesWide = 1.8;  // film over radius at which mucus shuts a wide airway too
constexpr double kStridorSpeed_m_per_s = 20.0;
constexpr double kStridorLevel = 0.30;  // at the neck, at that speed of the jet
constexpr double kStrouhal = 0.11;
constexpr double kGruntLevel = 0.10;
constexpr double kSquawkLevel = 0.030;
constexpr double kSquawkEnds_s = 0.008;
constexpr double kAttack_s = 0.012;
constexpr double kDrift_s = 0.12;  // of the wandering pitch
constexpr double kSilence = 1e-7;
constexpr double kWheezeToWindpipe = 0.30;  // share of a lobe's tone that runs up to the trachea

double approach(double from, double to, double share) noexcept {
  return from + (to - from) * share;
}

using det::absolute;

// 0 round .. 1 flattened or narrowed, so that it can sing.
double flattened(const patient::LobeState& lobe, double narrow) noexcept {
  const double lesion = narrow > lobe.bronchus_narrowing ? narrow : lobe.bronchus_narrowing;
  return clamp(smooth_step(kFlattens_cmH2O, kFlat_cmH2O, lobe.squeeze_cmH2O) +
                   smooth_step(kHardlyNarrow, kNarrow, lesion),
               0.0, 1.0);
}

}  // namespace

double wheeze_pitch_hz(double speed_m_per_s, double half_gap_mm) noexcept {
  const double gap_m = 1e-3 * clamp(half_gap_mm, 0.01, 20.0);
  return clamp(228.0 + 0.021 * absolute(speed_m_per_s) / gap_m, 228.0, kHighest_hz);
}

MusicalSounds::MusicalSounds(Seed seed, const BodyScale& scale) noexcept
    : flutter_(seed, "flutter"), mucus_(seed, "mucus"), scale_(scale) {
  RandomStream draw(seed, "wheezers");
  const double person_mL = clamp(draw.normal(107.0, 45.0), 25.0, 220.0) * scale.volume_L;
  for (auto& lobe : wheezers_) {
    for (std::size_t k = 0; k < kPerLobe; ++k) {
      Wheezer& w = lobe[k];
      w.onset_mL = person_mL + (k == 0 ? 0.0 : draw.uniform(0.0, 60.0) * scale.volume_L);
      w.gap_ratio = k == 0 ? 1.0 : clamp(draw.log_normal(0.9, 0.28), 0.5, 1.8);
      w.loudness = k == 0 ? 1.0 : clamp(draw.log_normal(0.55, 0.3), 0.25, 1.0);
      w.unevenness = draw.uniform(4.0, 24.0);
      w.plug = draw.uniform(0.5, 1.0);
    }
  }
  lay_mucus(1.0);
}

void MusicalSounds::lay_mucus(double after_cough) noexcept {
  for (Rhonchus& r : rhonchi_) {
    r.pitch_hz = mucus_.uniform(95.0, 175.0) * det::sqrt(scale_.pitch);
    r.loudness = clamp(mucus_.log_normal(0.8, 0.35), 0.3, 1.4) * after_cough;
    r.threshold = mucus_.uniform(0.08, 0.35);
    r.from_s = mucus_.uniform(0.0, 0.35);
  }
}

void MusicalSounds::sing(const Scene& scene, std::size_t index, const ToneLanes::Target& source,
                         std::size_t lobe, exam::Sound sound) noexcept {
  ToneLanes& lanes = lanes_[index / kLanes];
  if (source.amplitude <= kSilence) {
    lanes.set(index % kLanes, {source.pitch_hz, 0.0, source.bend, source.damp},
              scene.sample_rate_hz, scene.frames);
    tracks_[index].follow(scene, {sound, Region::kRul, source.pitch_hz, 0.0});
    return;
  }
  const Hearing& h = *scene.hearing;
  const double f = source.pitch_hz;
  const double chest = h.airway.gain * h.airway.gain *
                       low_pass_power(f, h.airway.peak_hz, h.airway.q) *
                       (1.0 + h.airway.band_mix * h.airway.band_mix * (f / h.airway.peak_hz) *
                                  (f / h.airway.peak_hz)) *
                       pole_power(f, h.airway.pole_hz);
  const double open = h.open_gain * h.open_gain * open_power(f, h.open_centre_hz);
  double power = chest + open + h.neck_gain * h.neck_gain;
  Region region = Region::kUpperAirway;
  if (lobe < exam::kNumLobes) {
    power = kWheezeToWindpipe * kWheezeToWindpipe * power +
            h.lobe_gain[lobe] * h.lobe_gain[lobe] * pole_power(f, h.lobe_pole_hz[lobe]);
    region = static_cast<Region>(lobe);
  }
  ToneLanes::Target target = source;
  target.amplitude = source.amplitude * det::sqrt(power);
  lanes.set(index % kLanes, target, scene.sample_rate_hz, scene.frames);
  tracks_[index].follow(
      scene, {sound, region, f,
              0.5 * target.amplitude * target.amplitude * ToneLanes::power_ratio(source.damp)});
}

// 0 silent .. 1 singing freely. The patient's limitation is x^4 / (1 + x^4) of the wanted over the
// greatest possible flow x of the whole lobe.
double MusicalSounds::wheeze_drive(const Scene& scene, const patient::LobeState& lobe,
                                   Wheezer& w) noexcept {
  if (lobe.secretions > w.plug * lobe.airway_radius_ratio) return 0.0;
  const double narrow = clamp(1.0 - lobe.airway_radius_ratio, 0.0, 1.0);
  if (lobe.flow_L_per_s >= 0.0) {
    w.sung_mL = 0.0;
    const double speed = absolute(lobe.choke_speed_m_per_s) * (1.0 + 0.05 * w.unevenness * narrow);
    return kInspiratoryShare *
           smooth_step(kInspiratorySpeed_m_per_s, 1.4 * kInspiratorySpeed_m_per_s, speed) *
           smooth_step(0.40, 0.60, narrow);
  }
  const double limited = clamp(lobe.flow_limitation, 0.0, 0.9999);
  const double lobe_x = det::sqrt(det::sqrt(limited / (1.0 - limited)));
  const double x = lobe_x * (1.0 + w.unevenness * narrow);
  if (x > 1.0 && scene.now->trachea_flow_L_per_s < 0.0) {
    w.sung_mL -= 1000.0 * scene.now->trachea_flow_L_per_s * scene.step_s;
  }
  return w.sung_mL > w.onset_mL ? smooth_step(0.95, 1.2, x) * flattened(lobe, narrow) : 0.0;
}

void MusicalSounds::update_wheezes(const Scene& scene) noexcept {
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    const patient::LobeState& lobe = scene.now->lobe[l];
    const double flow = absolute(lobe.flow_L_per_s);
    const double moving = smooth_step(kLeastFlow_L_per_s * scale_.volume_L,
                                      4.0 * kLeastFlow_L_per_s * scale_.volume_L, flow);
    const double fast =
        smooth_step(kSlowest_m_per_s, 2.0 * kSlowest_m_per_s, absolute(lobe.choke_speed_m_per_s));
    const double power = absolute(lobe.choke_speed_m_per_s) / kWheezeSpeed_m_per_s *
                         det::sqrt(flow / (kWheezeFlow_L_per_s * scale_.volume_L));
    for (std::size_t k = 0; k < kPerLobe; ++k) {
      Wheezer& w = wheezers_[l][k];
      const double wanted =
          wheeze_drive(scene, lobe, w) * moving * fast * clamp(power, 0.0, 3.0) * w.loudness;
      w.level = approach(w.level, wanted, share_.attack);
      w.drift = approach(w.drift, 0.0, share_.drift) + flutter_.uniform(-1.0, 1.0) * share_.flutter;
      const double pitch =
          wheeze_pitch_hz(lobe.choke_speed_m_per_s, lobe.choke_half_gap_mm * w.gap_ratio);
      sing(scene, l * kPerLobe + k,
           {pitch * (1.0 + 0.5 * w.drift), kWheezeLevel * w.level * (1.0 + 6.0 * w.drift), 0.08,
            0.0},
           l, exam::Sound::kWheeze);
    }
  }
}

void MusicalSounds::update_rhonchi(const Scene& scene) noexcept {
  const bool cough = scene.now->voice == patient::Voice::kCough;
  if (coughing_ && !cough) lay_mucus(mucus_.uniform(0.2, 1.0));
  coughing_ = cough;
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    const patient::LobeState& lobe = scene.now->lobe[l];
    Rhonchus& r = rhonchi_[l];
    const double x = absolute(lobe.flow_L_per_s) / (0.2 * scale_.flow_L_per_s);
    const double both = lobe.flow_L_per_s < 0.0 ? 1.0 : 0.55;
    double wanted = 0.0;
    const bool plugged = lobe.secretions > kBridgesWide * lobe.airway_radius_ratio;
    if (lobe.secretions > r.threshold && scene.now->since_phase_s > r.from_s && !plugged &&
        !lobe.bronchus_blocked) {
      wanted = both * clamp(lobe.secretions, 0.0, 1.0) * r.loudness * smooth_step(0.12, 0.45, x) *
               det::sqrt(clamp(x, 0.0, 4.0));
    }
    r.level = approach(r.level, wanted, share_.slow);
    const double pitch = r.pitch_hz * (0.85 + 0.25 * clamp(x, 0.0, 2.0)) *
                         (1.0 + 0.012 * flutter_.uniform(-1.0, 1.0));
    // Damping takes 9 dB; a rhonchus is heard across a room, so 7 dB more than kRhonchusLevel.
    sing(scene, kFirstRhonchus + l,
         {clamp(pitch, 70.0, 280.0), 6.2 * kRhonchusLevel * r.level, 0.0, 1.0}, l,
         exam::Sound::kRhonchus);
  }
}

void MusicalSounds::update_larynx(const Scene& scene) noexcept {
  const auto& upper = scene.now->upper_airway;
  const double jet = absolute(upper.jet_speed_m_per_s);
  const bool in = upper.flow_L_per_s >= 0.0;
  const double rush = clamp(jet / kStridorSpeed_m_per_s, 0.0, 2.2);
  // Outside the chest the walls are sucked together by inspiration and blown apart by expiration.
  const double phase = upper.intrathoracic == in ? 0.12 : 1.0;
  const double wanted = smooth_step(0.12, 0.45, upper.narrowing) * smooth_step(5.0, 12.0, jet) *
                        clamp(rush * rush, 0.0, 1.6) * phase;
  stridor_level_ = approach(stridor_level_, wanted, share_.slow);
  const double width_m = 1e-3 * det::sqrt(clamp(upper.area_mm2, 1.0, 400.0));
  const double pitch = clamp(kStrouhal * jet / width_m, 320.0, 1400.0);
  for (std::size_t k = 0; k < 2; ++k) {
    stridor_drift_[k] =
        approach(stridor_drift_[k], 0.0, share_.drift) + 0.008 * flutter_.uniform(-1.0, 1.0);
    const double ratio = k == 0 ? 1.0 : 1.62;
    sing(scene, kStridor + k,
         {pitch * ratio * (1.0 + stridor_drift_[k]),
          kStridorLevel * stridor_level_ * (k == 0 ? 1.0 : 0.4), 0.12, 0.0},
         kUpperAirway, exam::Sound::kStridor);
  }
  const double brake =
      upper.grunting * smooth_step(0.02, 0.15, -upper.flow_L_per_s / scene.scale.flow_L_per_s);
  grunt_level_ = approach(grunt_level_, brake, share_.attack);
  const double grunt_hz = 140.0 * scene.scale.pitch * scene.scale.pitch;
  sing(scene, kGrunt, {clamp(grunt_hz, 110.0, 450.0), kGruntLevel * grunt_level_, 0.22, 0.0},
       kUpperAirway, exam::Sound::kGrunting);
}

void MusicalSounds::squawk(std::size_t lobe, double pitch_hz, double length_s) noexcept {
  if (squawk_left_s_ > 0.0) return;
  squawk_lobe_ = lobe;
  squawk_pitch_hz_ = pitch_hz;
  squawk_length_s_ = squawk_left_s_ = length_s;
}

void MusicalSounds::update_squawk(const Scene& scene) noexcept {
  double level = 0.0;
  if (squawk_left_s_ > 0.0) {
    // The stream that makes it sing ends with the inspiration.
    if (scene.now->phase != exam::Phase::kInspiration && squawk_left_s_ > kSquawkEnds_s) {
      squawk_left_s_ = kSquawkEnds_s;
    }
    const double into = squawk_length_s_ - squawk_left_s_;
    level = smooth_step(0.0, 0.008, into + scene.step_s) *
            smooth_step(0.0, 0.3 * squawk_length_s_, squawk_left_s_);
    squawk_left_s_ -= scene.step_s;
  }
  sing(scene, kSquawk, {squawk_pitch_hz_, kSquawkLevel * level, 0.16, 0.0}, squawk_lobe_,
       exam::Sound::kSquawk);
}

void MusicalSounds::update(const Scene& scene) noexcept {
  if (scene.step_s != share_.step_s) {
    share_.step_s = scene.step_s;
    share_.attack = 1.0 - det::exp(-scene.step_s / kAttack_s);
    share_.slow = 1.0 - det::exp(-scene.step_s / (2.0 * kAttack_s));
    share_.drift = 1.0 - det::exp(-scene.step_s / kDrift_s);
    share_.flutter = 0.004 * det::sqrt(scene.step_s / 0.0027);
  }
  update_wheezes(scene);
  update_rhonchi(scene);
  update_larynx(scene);
  update_squawk(scene);
}

void MusicalSounds::process(Lanes* out, std::size_t frames) noexcept {
  for (ToneLanes& group : lanes_) {
    if (group.is_audible()) group.process(out, frames);
  }
}

std::size_t MusicalSounds::active_groups() const noexcept {
  std::size_t count = 0;
  for (const ToneLanes& group : lanes_) count += group.is_audible() ? 1 : 0;
  return count;
}

void MusicalSounds::finish(TruthRing& truth) noexcept {
  for (TonalTrack& track : tracks_) track.finish(truth);
}

}  // namespace phren::acoustics
